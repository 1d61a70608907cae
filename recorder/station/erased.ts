/** What a station still shows or remembers of somebody who is erased, or of single sets that are: it goes at once. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import { type Station, withDesk } from "./state.ts";

export interface Erased {
  /** null: only the sets. */
  readonly trainee: string | null;
  /** Tags that stood for them. */
  readonly tags: readonly string[];
  readonly set_ids: readonly string[];
}

/** While a set of theirs is set up or runs nobody is erased, so a running one is somebody else's. */
export function withoutErased(station: Station, erased: Erased): Station {
  const { set, desk } = station;
  const { finished, last_named, last_tag } = desk;
  const is = (trainee: string | null): boolean => trainee !== null && trainee === erased.trainee;
  const gone = (shown: SetMessage | null): boolean =>
    shown !== null && (is(shown.trainee) || erased.set_ids.includes(shown.set_id));
  let next = station;
  if (set !== null && gone(set.comparable)) next = { ...next, set: { ...set, comparable: null } };
  if (finished !== null) {
    const { facts } = finished.path;
    if (is(facts.trainee) || erased.set_ids.includes(facts.set_id)) next = withDesk(next, { finished: null });
    else if (gone(finished.comparable)) next = withDesk(next, { finished: { ...finished, comparable: null } });
  }
  if (last_named !== null && is(last_named.trainee)) next = withDesk(next, { last_named: null });
  if (last_tag !== null && (is(last_tag.tag) || erased.tags.includes(last_tag.tag))) {
    next = withDesk(next, { last_tag: null });
  }
  return next;
}
