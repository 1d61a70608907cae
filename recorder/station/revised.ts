/** The set that a running or finished one is shown beside, when it is amended meanwhile. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { ArmFacts } from "./arm-facts.ts";
import { type Station, withDesk } from "./state.ts";

/**
 * The station with the newest revision on show. One that is no longer comparable leaves; which one was the newest before it
 * is asked of the record by the next begin, and not in the middle of a set.
 */
export function withRevision(station: Station, revised: SetMessage): Station {
  const { set } = station;
  const { finished } = station.desk;
  if (set?.comparable?.set_id === revised.set_id) {
    return { ...station, set: { ...set, comparable: still(revised, set.path.facts) } };
  }
  if (finished?.comparable?.set_id === revised.set_id) {
    return withDesk(station, { finished: { ...finished, comparable: still(revised, finished.path.facts) } });
  }
  return station;
}

function still(revised: SetMessage, { trainee, side }: ArmFacts): SetMessage | null {
  const comparable = revised.trainee === trainee && revised.side === side && !revised.warm_up && !revised.void;
  return comparable ? revised : null;
}
