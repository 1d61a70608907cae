/** Work on the record as a whole is done one piece at a time: what an import brings must not slip past an erasure under way. */
import { type Outcome, refused } from "../../protocol/requests/response.ts";
import { instant, type Now } from "../station/exchange.ts";

/** `what` begins a sentence: "An import". Whoever comes meanwhile is refused, not kept waiting for minutes. */
export type Alone = (what: string, work: () => Promise<Outcome>) => Promise<Outcome>;

export function oneAtATime(now: () => Now): Alone {
  let running: { readonly what: string; readonly since: string } | null = null;
  return async (what, work) => {
    if (running !== null) {
      return refused("busy", `${running.what} is under way since ${running.since}.`, "Ask again when it is done.");
    }
    running = { what, since: instant(now()) };
    try {
      return await work();
    } finally {
      running = null;
    }
  };
}
