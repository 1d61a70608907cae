/** Work on the record as a whole is done one piece at a time: what an import brings must not slip past an erasure under way. */
import { type Outcome, refused } from "../../protocol/requests/response.ts";
import { instant, type Now } from "../station/exchange.ts";

/** `what` begins a sentence: "An import". Whoever comes meanwhile is refused, not kept waiting for minutes. */
export type Alone = (what: string, work: () => Promise<Outcome>) => Promise<Outcome>;

export interface OneAtATime {
  readonly alone: Alone;
  /** Resolves when nothing is under way any more, and whoever asked for it is being answered. */
  settled(): Promise<void>;
}

export function oneAtATime(now: () => Now): OneAtATime {
  let settled = Promise.resolve();
  let running: { readonly what: string; readonly since: string } | null = null;
  const alone: Alone = async (what, work) => {
    if (running !== null) {
      return refused("busy", `${running.what} is under way since ${running.since}.`, "Ask again when it is done.");
    }
    running = { what, since: instant(now()) };
    let over: () => void = () => {};
    settled = new Promise((resolve) => {
      over = resolve;
    });
    try {
      return await work();
    } finally {
      running = null;
      over();
    }
  };
  return { alone, settled: () => settled };
}
