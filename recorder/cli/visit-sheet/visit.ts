/** What stands on the sheet of a visit, asked from the recorder: a trainee's sets of a day, each with its curve, and their trends. */
import { z } from "zod";
import { type SetMessage, setSchema } from "../../../protocol/messages/set.ts";
import { type TrendResult, trendResultSchema } from "../../../protocol/requests/trend.ts";
import type { FloorSteps, SetCurve } from "../../drawing/set-plot-facts.ts";
import type { InputLog } from "../../ports.ts";
import type { Chosen } from "../chosen-sets.ts";
import { ask } from "../client.ts";
import type { Failure } from "../command.ts";
import { OTHER_VERSION, walkSets } from "../set-pages.ts";

export interface VisitSet {
  readonly set: SetMessage;
  /** null: its readings cannot be read any more. */
  readonly curve: SetCurve | null;
  readonly floor: FloorSteps | null;
  /** When the sensor was calibrated, ISO 8601 UTC; null: not known. */
  readonly calibrated_at: string | null;
  /** How the trainee was set up, as noted. */
  readonly setup: Readonly<Record<string, string>>;
}

export interface Visit {
  readonly trainee: string;
  /** YYYY-MM-DD at the station. */
  readonly day: string;
  /** As they began. */
  readonly sets: readonly VisitSet[];
  /** By station, up to the day of the visit; a station is missing where the recorder could not tell. */
  readonly trends: ReadonlyMap<string, TrendResult>;
}

/** `chosen` are the sets of one trainee and one day, whose end is `ends_at`. */
export async function askVisit(
  { trainee, day, ends_at }: { readonly trainee: string; readonly day: string; readonly ends_at: string },
  chosen: Chosen,
  socket: string,
): Promise<Visit | Failure> {
  const found: SetMessage[] = [];
  const failure = await walkSets({ path: socket, verb: "sets", args: chosen.args }, null, async (page) => {
    const read = setSchema.array().safeParse(page);
    if (!read.success) return OTHER_VERSION;
    found.push(...read.data);
    return null;
  });
  if (failure !== null) return failure;
  // Instants of one form, so that their text has their order.
  found.sort((one, other) => (one.started_at < other.started_at ? -1 : 1));
  const sets: VisitSet[] = [];
  for (const set of found) sets.push(await withCurve(set, socket));
  const trends = new Map<string, TrendResult>();
  for (const station of new Set(found.map((set) => set.station))) {
    const reply = await ask({ path: socket, verb: "trend", args: { station, trainee, to: ends_at } });
    const read = reply.ok ? trendResultSchema.safeParse(reply.result).data : undefined;
    if (read !== undefined) trends.set(station, read);
  }
  return { trainee, day, sets, trends };
}

const curveSchema = z.looseObject({ elapsed_s: z.array(z.number()), force_N: z.array(z.number().nullable()) });
const logSchema = z.custom<InputLog>((log) => typeof log === "object" && log !== null);
const answerSchema = z.looseObject({ curve: curveSchema, log: logSchema });
/** What the sheet says of the beginning of a log. */
const armSchema = z.looseObject({
  setup_notes: z.record(z.string(), z.string()).catch({}),
  calibration: z.looseObject({ at: z.string() }).nullable().catch(null),
});

/** A set whose readings are damaged still has its figures. */
async function withCurve(set: SetMessage, socket: string): Promise<VisitSet> {
  const reply = await ask({ path: socket, verb: "set", args: { set_id: set.set_id, curve: true } });
  const read = reply.ok ? answerSchema.safeParse(reply.result).data : undefined;
  if (read === undefined) return { set, curve: null, floor: null, calibrated_at: null, setup: {} };
  const arm = armSchema.safeParse(read.log.arm).data;
  const { floorSteps } = await import("../../run/floor-steps.ts");
  return {
    set,
    curve: read.curve,
    floor: floorSteps(set, read.log),
    calibrated_at: arm?.calibration?.at ?? null,
    setup: arm?.setup_notes ?? {},
  };
}
