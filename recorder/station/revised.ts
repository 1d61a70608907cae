/** What a station shows of its kept sets, when one of them gets another revision. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { ArmFacts } from "./arm-facts.ts";
import { type Station, withDesk } from "./state.ts";

/**
 * The station with the newest revision on show. One that is no longer comparable leaves; which one was the newest before it
 * is asked of the record by the next begin, and not in the middle of a set.
 */
export function withRevision(was: Station, revised: SetMessage): Station {
  const station = withDate(was, revised);
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

/** Once its clock is right, a box that began in the past knows of a later end than it thought. */
function withDate(station: Station, { at }: SetMessage): Station {
  const { last_ended_at } = station.desk;
  return last_ended_at !== null && at <= last_ended_at ? station : withDesk(station, { last_ended_at: at });
}

function still(revised: SetMessage, { trainee, side }: ArmFacts): SetMessage | null {
  const comparable = revised.trainee === trainee && revised.side === side && !revised.warm_up && !revised.void;
  return comparable ? revised : null;
}
