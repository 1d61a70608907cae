import { type Outcome, refused } from "../../protocol/requests/response.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";
import type { CarePorts } from "./care.ts";

export async function backUp({ path: _path }: ArgsOf<"backup">, _ports: CarePorts): Promise<Outcome> {
  return refused("internal", "This is being built.");
}
