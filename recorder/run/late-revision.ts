/**
 * What a station learns of a set after it was finished becomes a revision, by the recorder itself. The set may still wait
 * in memory for a store that does not take it; then so does this. If the recorder goes first, the field stays null.
 */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { Store } from "../ports.ts";
import { instant, type Now } from "../station/exchange.ts";
import type { Keeper } from "./keeper.ts";
import type { ServiceLog } from "./log.ts";
import type { StandingWrites } from "./standing-writes.ts";
import type { InTurn } from "./turns.ts";

export interface LateRevisionPorts {
  readonly store: Pick<Store, "revise">;
  readonly keeper: Pick<Keeper, "settled">;
  readonly writes: Pick<StandingWrites, "write">;
  readonly inTurn: InTurn;
  /** The set has another revision, and the outbox a row that says so. */
  readonly onRevised: (set: SetMessage) => void;
  readonly now: () => Now;
  readonly log: Pick<ServiceLog, "warn">;
}

/** `topic` is that of the station's `set` messages. */
export function reviseLater(
  set_id: string,
  changes: Partial<SetMessage>,
  topic: string,
  { store, keeper, writes, inTurn, onRevised, now, log }: LateRevisionPorts,
): void {
  const revising = { set_id, changes, performed_by: null, revised_at: instant(now()), topic };
  const revise = async (): Promise<void> => {
    const set = await store.revise(revising);
    if (set !== null) return onRevised(set);
    // Erased, or put aside.
    log.warn({ set_id }, "Where the zero stood after a set is not noted: the set is not in the store.");
  };
  void keeper
    .settled(set_id)
    .then(() => writes.write(`Where the zero stood after set ${set_id}`, () => inTurn(revise)));
}
