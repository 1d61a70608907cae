/** Kept sets as a list for people, one line a set. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import { sayInstant } from "../drawing/instants.ts";
import { type House, sayForce, sayPercent, saySeconds } from "./quantities.ts";
import { sayTable } from "./table.ts";

export function saySets(sets: readonly SetMessage[], house: House): string {
  const rows = sets.map((set) => [
    sayInstant(set.started_at, house.time_zone),
    set.station,
    set.trainee ?? "-",
    set.side ?? "-",
    set.style,
    sayForce(set.best_force_N, house, 0),
    sayPercent(set.force_loss),
    sayPercent(set.fatigue_threshold),
    String(set.efforts.filter(({ counted }) => counted).length),
    saySeconds(set.duration_s),
    [set.stop_reason, ...marks(set)].join(", "),
    set.set_id,
  ]);
  const heads = [
    "started",
    "station",
    "trainee",
    "side",
    "style",
    "best",
    "loss",
    "of",
    "efforts",
    "time",
    "ended by",
    "set",
  ];
  return sayTable([heads, ...rows], [5, 6, 7, 8, 9]);
}

/** The newest sets are read at a glance, so a note is told no further than this; `show` has all of it. */
const NOTE_CHARACTERS = 40;

/** The recorder's own revision, which says where the zero stood afterwards, comes to nearly every set. */
function marks(set: SetMessage): string[] {
  const { pain, note, revision, zero_shift_N } = set;
  const short =
    note === null || note.length <= NOTE_CHARACTERS ? note : `${note.slice(0, NOTE_CHARACTERS).trimEnd()}...`;
  return [
    ...MARKS.filter(([mark]) => set[mark] === true).map(([, word]) => word),
    ...(pain === null ? [] : [`pain ${pain}`]),
    ...(short === null ? [] : [`note: ${short}`]),
    ...(revision === (zero_shift_N === null ? 1 : 2) ? [] : [`revision ${revision}`]),
  ];
}

const MARKS = [
  ["warm_up", "warm-up"],
  ["void", "void"],
  ["simulated", "simulated"],
] as const;
