/** What the recorder answers, as far as a self-test reads it. Open schemas: a newer recorder may say more. */
import { z } from "zod";
import type { Sample, SensorFacts } from "../../../calibration/self-test/sample.ts";

const number_ = z.number().nullable();
const text_ = z.string().nullable();

const standing = z.looseObject({ trouble: text_ });

/** `status`. */
export const statusSchema = z.looseObject({
  recorder: z.string(),
  site: z.string(),
  version: z.string(),
  boot: z.string(),
  simulated: z.boolean(),
  health: z.looseObject({
    uptime_s: z.number(),
    clock_synced: z.boolean(),
    event_loop: z.looseObject({ max_s: z.number() }),
    storage: standing.extend({ unsaved_sets: z.number(), slowest_write_s: z.number() }),
    outbox: z.looseObject({ waiting: z.number(), not_empty_s: z.number() }),
  }),
  stations: z.array(z.looseObject({ station: z.string() })),
});
export type Status = z.infer<typeof statusSchema>;

/** `self-test`. */
export const selfTestSchema = z.looseObject({
  station: z.string(),
  duration_s: z.number(),
  ended: z.string(),
  at_us: z.array(z.number()),
  counts: z.array(z.number()),
  readings_lost: z.number(),
  lines_rejected: z.number(),
  dialect: z.enum(["tm1", "bare"]),
  serial_port: z.string(),
  board: text_,
  firmware: text_,
  amplifier: text_,
  gain: number_,
  configured_rate_Hz: z.number(),
  counts_per_N: number_,
  zero_counts: number_,
  cell_capacity_N: z.number(),
  working_force_N: z.number(),
  trouble: text_,
  lamps: z.array(z.looseObject({ lamp: z.number(), answered_ms: number_ })).nullable(),
});
export type SelfTestAnswer = z.infer<typeof selfTestSchema>;

export const sampleOf = ({ at_us, counts, readings_lost, lines_rejected }: SelfTestAnswer): Sample => ({
  at_us,
  counts,
  readings_lost,
  lines_rejected,
});

/** `mains_Hz`: where somebody said it. */
export function factsOf(answer: SelfTestAnswer, mains_Hz: 50 | 60 | undefined): SensorFacts {
  const { configured_rate_Hz, dialect, amplifier, gain, counts_per_N, zero_counts } = answer;
  const { cell_capacity_N, working_force_N } = answer;
  const known = { configured_rate_Hz, dialect, amplifier, gain, counts_per_N, zero_counts };
  const facts = { ...known, cell_capacity_N, working_force_N };
  return mains_Hz === undefined ? facts : { ...facts, mains_Hz };
}
