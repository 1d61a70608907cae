/** Many kept sets judged again, one at a time: what was kept beside the new verdict, differences marked. */
import { z } from "zod";
import { type SetMessage, setSchema } from "../../protocol/messages/set.ts";
import { sayInstant } from "../drawing/instants.ts";
import type { InputLog } from "../ports.ts";
import type { Chosen } from "./chosen-sets.ts";
import { ask } from "./client.ts";
import { DID_NOT_HOLD, type ExitCode, type Failure, type Terminal } from "./command.ts";
import { type House, sayForce, sayPercent, saySeconds } from "./quantities.ts";
import { OTHER_VERSION, walkSets } from "./set-pages.ts";
import type { Settings } from "./settings.ts";
import { sayTable } from "./table.ts";

/** `why`: one sentence, where the set cannot be judged. */
export type Pair =
  | { readonly kept: SetMessage; readonly again: SetMessage }
  | { readonly kept: SetMessage; readonly again: null; readonly why: string };

/** Throws an Error with one sentence where the log makes no set under the asked settings. */
export type JudgeAgain = (kept: SetMessage, log: InputLog) => SetMessage;

export interface Many {
  readonly chosen: Chosen;
  readonly judge: JudgeAgain;
  /** Pairs as JSON, one a line. */
  readonly json: boolean;
}

/** Of the sets that are gone by only the lines of the table stay in memory. */
export async function replayMany(many: Many, settings: Settings, terminal: Terminal): Promise<ExitCode | Failure> {
  const rows: (readonly string[])[] = [];
  const unjudged: string[] = [];
  let looked = 0;
  let judged = 0;
  let same = 0;
  let too_short = 0;
  const question = { path: settings.socket, verb: "sets", args: many.chosen.args } as const;
  const failure = await walkSets(question, many.chosen.limit, async (page) => {
    const read = setSchema.array().safeParse(page);
    if (!read.success) return OTHER_VERSION;
    for (const kept of read.data) {
      looked += 1;
      const pair = await judgedAgain(kept, many.judge, settings.socket);
      const is_same = pair.again !== null && differences(kept, pair.again, settings.house).length === 0;
      if (many.json) terminal.out(JSON.stringify({ ...pair, is_same }));
      else if (pair.again === null) unjudged.push(`${kept.set_id}: ${pair.why}`);
      else rows.push(rowOf(kept, pair.again, settings.house));
      if (pair.again !== null) judged += 1;
      if (pair.again?.stop_reason === "on-request" && kept.stop_reason !== "on-request") too_short += 1;
      if (is_same) same += 1;
    }
    return null;
  });
  if (failure !== null) return failure;
  if (!many.json) for (const block of said(rows, unjudged, { judged, same })) terminal.out(block);
  if (too_short > 0) {
    const of_them = too_short === 1 ? "1 set" : `${too_short} sets`;
    terminal.error(`mind: the record of ${of_them} ends before these settings would have ended it`);
  }
  return judged === 0 && looked > 0 ? noneOf(looked) : 0;
}

const noneOf = (count: number): Failure => ({
  exit: DID_NOT_HOLD,
  message:
    count === 1
      ? "the one set that fits cannot be judged again"
      : `none of the ${count} sets that fit can be judged again`,
});

function said(
  rows: readonly (readonly string[])[],
  unjudged: readonly string[],
  { judged, same }: { readonly judged: number; readonly same: number },
): readonly string[] {
  if (rows.length + unjudged.length === 0) return ["no set is kept yet that fits"];
  const table = rows.length === 0 ? [] : [sayTable([HEADS, ...rows], [4, 5, 6, 7]), ""];
  const missing = unjudged.length === 0 ? [] : [`not judged: ${unjudged.length}`, ...unjudged.map((one) => `  ${one}`)];
  return [...table, `${same} of ${judged} to the same result`, ...missing];
}

const HEADS = ["", "started", "station", "trainee", "best", "loss", "efforts", "time", "ended by", "engine", "set"];

async function judgedAgain(kept: SetMessage, judge: JudgeAgain, socket: string): Promise<Pair> {
  const reply = await ask({ path: socket, verb: "set", args: { set_id: kept.set_id, curve: true } });
  if (!reply.ok) return { kept, again: null, why: reply.failure.message };
  const read = withLogSchema.safeParse(reply.result);
  if (!read.success) return { kept, again: null, why: OTHER_VERSION.message };
  try {
    // The log is the set's, so the set it came with is the one that is judged.
    return { kept, again: judge(read.data.set, read.data.log as InputLog) };
  } catch (error) {
    // A plain Error is the port's way of saying that these settings make no set; any other kind is a broken program.
    if (!(error instanceof Error) || error.constructor !== Error) throw error;
    return { kept, again: null, why: error.message };
  }
}

/** What the command needs of an answer to `set` with its curve. */
export const withLogSchema = z.looseObject({
  set: setSchema,
  log: z.looseObject({
    arm: z.unknown(),
    at_us: z.array(z.number()),
    counts: z.array(z.number()),
    events: z.array(z.looseObject({ before: z.int(), event: z.unknown() })),
  }),
});

/** What a verdict is, as people read it. The engine's version is not part of it. */
const verdictOf = (set: SetMessage, house: House): readonly string[] => [
  sayForce(set.best_force_N, house, 0),
  sayPercent(set.force_loss),
  String(set.efforts.filter(({ counted }) => counted).length),
  saySeconds(set.duration_s),
  set.stop_reason,
];

/** Columns that differ, as they are said: nobody sees a hundredth of a newton. */
function differences(kept: SetMessage, again: SetMessage, house: House): readonly number[] {
  const before = verdictOf(kept, house);
  return verdictOf(again, house).flatMap((value, column) => (value === before[column] ? [] : [column]));
}

function rowOf(kept: SetMessage, again: SetMessage, house: House): readonly string[] {
  const now = verdictOf(again, house);
  const cells = verdictOf(kept, house).map((value, column) => beside(value, now[column] as string));
  return [
    differences(kept, again, house).length === 0 ? "" : "*",
    sayInstant(kept.started_at, house.time_zone).slice(0, 16),
    kept.station,
    kept.trainee ?? "-",
    ...cells,
    beside(kept.engine, again.engine),
    kept.set_id,
  ];
}

const beside = (kept: string, again: string): string => (kept === again ? kept : `${kept} -> ${again}`);
