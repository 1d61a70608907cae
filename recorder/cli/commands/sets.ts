import { z } from "zod";
import { type SetMessage, setSchema } from "../../../protocol/messages/set.ts";
import { sayInstant } from "../../drawing/instants.ts";
import { askAndSay, JSON_FLAG } from "../ask-command.ts";
import type { Command } from "../command.ts";
import { type Fields, flagsOf } from "../fields.ts";
import { type House, sayForce, sayPercent, saySeconds } from "../quantities.ts";
import { askForNewest } from "../set-pages.ts";
import { readSettings, SETTINGS_FLAGS } from "../settings.ts";
import { sayTable } from "../table.ts";
import { DAYS, daysToInstants } from "../typed-days.ts";

const FIELDS: Fields = {
  station: { field: "station", kind: "text", value: "STATION", help: "only of this station" },
  trainee: { field: "trainee", kind: "text", value: "CODE", help: "only of this trainee" },
  limit: { field: "limit", kind: "number", value: "N", help: "at most so many, the newest; else 20" },
  ...DAYS,
};

const resultSchema = z.looseObject({ sets: z.array(setSchema) });

export const command: Command = {
  operands: [],
  flags: { ...flagsOf(FIELDS), ...JSON_FLAG, ...SETTINGS_FLAGS },
  example: "tidemark sets --trainee T-07 --from 2026-11-01",
  run: async (call) => {
    const settings = readSettings(call.flags);
    if ("exit" in settings) return settings;
    return askAndSay(daysToInstants(call, settings.house), {
      verb: "sets",
      fields: FIELDS,
      given: { limit: 20 },
      ask: askForNewest,
      result: resultSchema,
      say: ({ sets }, house) => (sets.length === 0 ? "no set is kept yet that fits" : saySets(sets, house)),
    });
  },
};

function saySets(sets: readonly SetMessage[], house: House): string {
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
