/** Plans: what a trainee does at a station, as their trainer decided it. */
import { type Outcome, refused } from "../../protocol/requests/response.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";

export async function plans(_args: ArgsOf<"plan">, _ports: object): Promise<Outcome> {
  return refused("internal", "Plans are being built.");
}

export async function savePlan(_args: ArgsOf<"plan-save">, _ports: object): Promise<Outcome> {
  return refused("internal", "Plans are being built.");
}
