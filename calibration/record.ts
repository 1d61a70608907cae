/**
 * The calibration record: what turns counts into newtons at one station, how far to trust it, and who said so when.
 * Append-only: a record is never edited. It binds to the board, amplifier and gain it was taken with; another one is a
 * `calibration-mismatch`, never a force, and so is one that has a name where the record has none, or the reverse: null
 * is only what the `bare` line has. A negative `counts_per_N` is legal: the wires are reversed.
 */
import { z } from "zod";
import { LOADINGS } from "../protocol/vocabulary.ts";

/** One still window. */
const windowShape = {
  /** The force of the known load on the sensor, N; 0 with nothing on. */
  force_N: z.number(),
  /** The mass it came from, kg, where a mass was hung. */
  mass_kg: z.number().nullable(),
  mean_counts: z.number(),
  /** Standard error of the mean, corrected for autocorrelation, counts. */
  standard_error_counts: z.number(),
  /** Standard deviation of one reading, counts. */
  noise_counts: z.number(),
  readings: z.int(),
  /** How the load was put on; absent with nothing on. */
  applied: z
    .strictObject({
      at: z.enum(["handle", "cell"]),
      lever_angle_deg: z.number().nullable(),
      /** Half-width, as a fraction of the load. */
      relative_tolerance: z.number(),
    })
    .optional(),
} as const;

export const pointSchema = z.strictObject({
  ...windowShape,
  /** Absent: at the unloaded point, and in records of before it was asked. */
  loading: z.enum(LOADINGS).optional(),
});
export type CalibrationPoint = z.infer<typeof pointSchema>;

/** A known load, and what the scale said of it. */
export const checkSchema = z.strictObject({
  ...windowShape,
  /** as-found: by the record that was in force before. as-left: by the scale of this procedure. */
  when: z.enum(["as-found", "as-left"]),
  loading: z.enum(LOADINGS),
  /** 1..3 */
  series: z.int(),
  indicated_force_N: z.number(),
  /** (indicated - true) / true; null with nothing on. */
  relative_error: z.number().nullable(),
});
export type Check = z.infer<typeof checkSchema>;

/** One line of the uncertainty budget, as a standard uncertainty (k = 1) in N at the working force. */
export const budgetLineSchema = z.strictObject({
  source: z.string(),
  standard_uncertainty_N: z.number(),
  /** The same at every force. Absent: in proportion to it. */
  constant: z.literal(true).optional(),
});
export type BudgetLine = z.infer<typeof budgetLineSchema>;

export const calibrationRecordSchema = z.strictObject({
  record_version: z.literal(1),
  calibration_id: z.uuid(),
  station: z.string(),
  at: z.iso.datetime({ precision: 3 }),
  performed_by: z.string().nullable(),
  zero_counts: z.number(),
  counts_per_N: z.number(),
  points: z.array(pointSchema).min(2),
  /** In the order they were taken. Absent in records of before there were checks. */
  checks: z.array(checkSchema).optional(),
  /** Half of what stood between a load reached from below and from above, N; null or absent: not tried. */
  friction_N: z.number().nullable().optional(),
  working_force_N: z.number(),
  cell_capacity_N: z.number(),
  /** k = 2, at the working force, N. */
  expanded_uncertainty_N: z.number(),
  budget: z.array(budgetLineSchema),
  board: z.string().nullable(),
  amplifier: z.string().nullable(),
  gain: z.int().nullable(),
  /** What the configuration called the cell; null or absent: nothing. */
  cell: z.string().nullable().optional(),
  due: z.iso.datetime({ precision: 3 }).nullable(),
  note: z.string().nullable(),
});
export type CalibrationRecord = z.infer<typeof calibrationRecordSchema>;

/**
 * Known loads hung to see whether a record still holds, with nothing calibrated anew. Append-only, too; `due` moves the
 * day on which the record it names is to be looked at again.
 */
export const checkRecordSchema = z.strictObject({
  check_version: z.literal(1),
  check_id: z.uuid(),
  calibration_id: z.uuid(),
  station: z.string(),
  at: z.iso.datetime({ precision: 3 }),
  performed_by: z.string().nullable(),
  /** All as-found: nothing was changed. */
  checks: z.array(checkSchema).min(1),
  /** How far the zero in use stood from the calibrated one, N. */
  zero_shift_N: z.number(),
  due: z.iso.datetime({ precision: 3 }).nullable(),
  note: z.string().nullable(),
});
export type CheckRecord = z.infer<typeof checkRecordSchema>;
