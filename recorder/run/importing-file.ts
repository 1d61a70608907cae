import { type Outcome, refused } from "../../protocol/requests/response.ts";
import type { CarePorts } from "./care.ts";

export async function importFrom(_path: string, _performed_by: string | null, _ports: CarePorts): Promise<Outcome> {
  return refused("internal", "This is being built.");
}
