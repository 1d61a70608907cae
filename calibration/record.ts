/**
 * The calibration record: what turns counts into newtons at one station, how far to trust it, and who said so when.
 * Append-only: a record is never edited. It binds to the board, amplifier and gain it was taken with; another one is a
 * `calibration-mismatch`, never a force, and so is one that has a name where the record has none, or the reverse: null
 * is only what the `bare` line has. A negative `counts_per_N` is legal: the wires are reversed.
 */
import { z } from "zod";

export const pointSchema = z.strictObject({
  /** The force of the known load on the sensor, N; 0 for the unloaded point. */
  force_N: z.number(),
  /** The mass it came from, kg, where a mass was hung. */
  mass_kg: z.number().nullable(),
  mean_counts: z.number(),
  /** Standard error of the mean, corrected for autocorrelation, counts. */
  standard_error_counts: z.number(),
  /** Standard deviation of one reading, counts. */
  noise_counts: z.number(),
  readings: z.int(),
  /** How the load was put on; absent at the unloaded point. */
  applied: z
    .strictObject({
      at: z.enum(["handle", "cell"]),
      lever_angle_deg: z.number().nullable(),
      /** Half-width, as a fraction of the load. */
      relative_tolerance: z.number(),
    })
    .optional(),
});
export type CalibrationPoint = z.infer<typeof pointSchema>;

/** One line of the uncertainty budget, as a standard uncertainty (k = 1) in N at the working force. */
export const budgetLineSchema = z.strictObject({ source: z.string(), standard_uncertainty_N: z.number() });
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
  working_force_N: z.number(),
  cell_capacity_N: z.number(),
  /** k = 2, at the working force, N. */
  expanded_uncertainty_N: z.number(),
  budget: z.array(budgetLineSchema),
  board: z.string().nullable(),
  amplifier: z.string().nullable(),
  gain: z.int().nullable(),
  due: z.iso.datetime({ precision: 3 }).nullable(),
  note: z.string().nullable(),
});
export type CalibrationRecord = z.infer<typeof calibrationRecordSchema>;
