import { type Outcome, refused } from "../../protocol/requests/response.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";
import type { CarePorts } from "./care.ts";

export async function erase(_args: ArgsOf<"erase">, _ports: CarePorts): Promise<Outcome> {
  return refused("internal", "This is being built.");
}
