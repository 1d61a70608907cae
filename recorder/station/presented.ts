/** A tag held to the reader of a station: looked up in the record, then a begin through the same door as a key's. */
import type { Now, StationInput } from "./exchange.ts";
import { refuseAtMachine } from "./host.ts";
import { only, phaseOf, type Station, type Step, takenBy, withDesk } from "./state.ts";
import { decideOwner, decideTag, type OwnerDecision } from "./tags.ts";

const circumstances = (station: Station) => ({
  phase: phaseOf(station),
  taken_by: takenBy(station),
});

export function onTag(station: Station, tag: string, at_us: number, now: Now): Step {
  const { last_tag } = station.desk;
  const last = last_tag === null ? null : { tag: last_tag.tag, since_us: at_us - last_tag.at_us };
  const { looking_up, begins_asked } = station.desk;
  const waiting = looking_up || begins_asked > 0;
  const decision = decideTag({ tag, ...circumstances(station), waiting, last });
  // One that came too soon is not the presentation it will be: it counts when the reader says it again.
  const seen = decision.do === "ignore" && waiting ? station : withDesk(station, { last_tag: { tag, at_us } });
  if (decision.do !== "look-up") return unused(seen, decision, now);
  return { station: withDesk(seen, { looking_up: true }), effects: [{ do: "look-up-tag", tag }] };
}

/** A key or a tag asks for a begin. Until it is answered, none of them asks for another. */
export const asksBegin = (station: Station): Station =>
  withDesk(station, { begins_asked: station.desk.begins_asked + 1 });

/** Such a begin is answered. */
export const beginAnswered = (station: Station): Station =>
  withDesk(station, { begins_asked: Math.max(0, station.desk.begins_asked - 1) });

/** What the machine asked for is refused, and whatever waited for it does no more. */
export function onRefused(
  station: Station,
  { asked, why }: Extract<StationInput, { kind: "key-refused" }>,
  now: Now,
): Step {
  switch (asked) {
    case null:
      return refuseAtMachine(withDesk(station, { looking_up: false }), why, now);
    case "begin":
      return refuseAtMachine(beginAnswered(station), why, now);
    default:
      return refuseAtMachine(station, why, now);
  }
}

/** The record has said whom the tag is linked to; meanwhile the set may have begun. */
export function onTagOwner(waiting: Station, tag: string, linked: string | null, now: Now): Step {
  const station = withDesk(waiting, { looking_up: false });
  const armed_for = station.set?.path.facts.trainee ?? null;
  const decision = decideOwner({ tag, linked, ...circumstances(station), armed_for });
  if (decision.do !== "begin") return unused(station, decision, now);
  const { trainee } = decision;
  // Whoever showed a tag is who trains here, even where no set can be set up yet: a key pressed later is theirs.
  const named = withDesk(asksBegin(station), { last_named: { trainee, at_us: station.sensor.at_us } });
  const { id } = station.configuration;
  const args = { station: id, trainee };
  // A log outlives an erasure: neither the code nor a tag that stands for it belongs there.
  const instead = armed_for === null ? "a set that was set up for nobody by name" : "another trainee's set";
  const replaced = station.set === null ? [] : [`It takes the place of ${instead}.`];
  const text = [`A tag at ${id} stands for a trainee, for whom a set is asked for.`, ...replaced].join(" ");
  return {
    station: named,
    effects: [
      { do: "dispatch", verb: "begin", args },
      { do: "log", level: "info", text },
    ],
  };
}

function unused(station: Station, decision: Exclude<OwnerDecision, { do: "begin" }>, now: Now): Step {
  switch (decision.do) {
    case "nothing":
      return only(station);
    case "refuse":
      return refuseAtMachine(station, decision.why, now);
    case "ignore": {
      const ignored = withDesk(station, { tags_ignored: station.desk.tags_ignored + 1 });
      return {
        station: ignored,
        effects: [{ do: "log", level: "info", text: `A tag was ignored: ${decision.why}.` }],
      };
    }
  }
}
