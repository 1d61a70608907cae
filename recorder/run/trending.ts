/** How a trainee's results go at a station. */
import { type Outcome, refused } from "../../protocol/requests/response.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";

export async function trend(_args: ArgsOf<"trend">, _ports: object): Promise<Outcome> {
  return refused("internal", "Trends are being built.");
}
