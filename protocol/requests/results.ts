/**
 * What the acting verbs answer with. Open schemas: readers ignore what they do not know.
 * Forces N (0.01), fractions 0..1 (1e-4), null: not known.
 */
import { z } from "zod";
import { instant, stationId, tagCode, traineeCode, uuid } from "../messages/parts.ts";
import { optionsSchema, setSchema } from "../messages/set.ts";
import { INTENTS, LOADINGS, SIDES, STOP_REASONS, STYLES } from "../vocabulary.ts";

const number_ = z.number().nullable();

/** `begin`: the set that is armed, with everything resolved from the request, the plan and the station. */
export const beginResultSchema = z.looseObject({
  set_id: uuid,
  station: stationId,
  trainee: traineeCode.nullable(),
  side: z.enum(SIDES).nullable(),
  exercise: z.string(),
  style: z.enum(STYLES),
  intent: z.enum(INTENTS),
  fatigue_threshold: number_,
  warm_up: z.boolean(),
  options: optionsSchema,
  /** How the trainee is to be set up, as their plan says. */
  setup: z.record(z.string(), z.string()).optional(),
  /** What the request left out came from a plan. */
  planned: z.boolean().optional(),
  /** One sentence each. */
  warnings: z.array(z.string()),
});
export type BeginResult = z.infer<typeof beginResultSchema>;

/** `end`: what was ended. `is_set` false: no effort was counted, so no set comes of it. That one is kept is what `set` says. */
export const endResultSchema = z.looseObject({
  set_id: uuid,
  is_set: z.boolean(),
  stop_reason: z.enum(STOP_REASONS).nullable(),
});

/** `zero`: how far the zero now stands from the calibrated one. */
export const zeroResultSchema = z.looseObject({ zero_shift_N: z.number(), zero_counts: z.number() });

/** `resting`: what the relaxed limb, lever or strap puts on the sensor. */
export const restingResultSchema = z.looseObject({ resting_force_N: z.number() });

/** `cleared` false: no load path was waiting for an inspection. */
export const inspectedResultSchema = z.looseObject({ cleared: z.boolean() });

/** `amend`: the set as it is now; `amended` false: it was so already, and no revision came of it. */
export const amendResultSchema = z.looseObject({ set: setSchema, amended: z.boolean() });

/** One tag that stands for another code than its own. */
export const tagLinkSchema = z.looseObject({
  tag: tagCode,
  trainee: traineeCode,
  linked_at: instant,
  /** Who linked it: a claim. null: nobody said. */
  performed_by: z.string().nullable(),
});

/** `tags`: by tag. */
export const tagsResultSchema = z.looseObject({ tags: z.array(tagLinkSchema) });

/** `tag-save`: whom the tag stands for now; null: nobody linked, so the trainee of its own code. */
export const tagSaveResultSchema = z.looseObject({ tag: tagCode, trainee: traineeCode.nullable() });

/** `calibration-begin`: what the visit has to know before anything is hung. */
export const calibrationBeginResultSchema = z.looseObject({
  station: stationId,
  since: instant,
  /** Of device time: settling before a still window, and its length. */
  dwell_s: z.number(),
  window_s: z.number(),
  /** The record that checks as found are read by; null: none is in force, or none of what is on the line. */
  in_force: uuid.nullable(),
  working_force_N: z.number(),
  cell_capacity_N: z.number(),
  /** What a scale can be made from here. A check may be lighter. */
  smallest_load_N: z.number(),
  largest_load_N: z.number(),
  /** What a hung mass is reckoned with. */
  gravity_m_s2: z.number(),
});
export type CalibrationBeginResult = z.infer<typeof calibrationBeginResultSchema>;

/** `calibration-zero`: one still window. */
export const calibrationZeroResultSchema = z.looseObject({
  mean_counts: z.number(),
  standard_error_counts: z.number(),
});

/** `calibration-load`: the scale so far; what its checks show comes to its uncertainty with the accept. */
export const calibrationLoadResultSchema = z.looseObject({
  ...calibrationZeroResultSchema.shape,
  /** What the load puts on the sensor. */
  force_N: z.number(),
  /** Negative: the wires are reversed. */
  counts_per_N: z.number(),
  /** k = 2, at the working force. */
  expanded_uncertainty_N: z.number(),
  /** null: reached one way only. */
  friction_N: number_,
  /** Standard uncertainties (k = 1) at the working force. */
  budget: z.array(
    z.looseObject({
      source: z.string(),
      standard_uncertainty_N: z.number(),
      constant: z.literal(true).optional(),
    }),
  ),
  /** One sentence each. */
  warnings: z.array(z.string()),
});
export type CalibrationLoadResult = z.infer<typeof calibrationLoadResultSchema>;

/** `calibration-check`: what a scale said of a known load. */
export const calibrationCheckResultSchema = z.looseObject({
  ...calibrationZeroResultSchema.shape,
  /** as-found: by the record in force. as-left: by the new scale. */
  when: z.enum(["as-found", "as-left"]),
  loading: z.enum(LOADINGS),
  series: z.int(),
  /** 0: nothing was on. */
  force_N: z.number(),
  indicated_force_N: z.number(),
  /** null with nothing on. */
  relative_error: number_,
  /** One sentence each. */
  warnings: z.array(z.string()),
});

/**
 * `calibration-accept`: the record that is in force now; or, where no new point was taken, the check that was kept, which is
 * told by its `check_id` and names the record that stays.
 */
export const calibrationAcceptResultSchema = z.union([
  z.looseObject({ check_id: uuid, calibration_id: uuid, station: stationId, at: instant, due: instant.nullable() }),
  z.looseObject({
    calibration_id: uuid,
    station: stationId,
    at: instant,
    zero_counts: z.number(),
    counts_per_N: z.number(),
    /** k = 2, at the working force. */
    expanded_uncertainty_N: z.number(),
    due: instant.nullable(),
  }),
]);

/** `calibration-abandon`: everything is as it was before the begin. */
export const calibrationAbandonResultSchema = z.looseObject({ abandoned: z.literal(true) });

/**
 * `calibrations`: records and checks of the station, newest first. Their own schemas are in the calibration room; here
 * stands what a list needs.
 */
export const calibrationsResultSchema = z.looseObject({
  in_force: uuid.nullable(),
  /** By when the record in force is to be looked at: the latest of its own due and of those of its checks. */
  due: instant.nullable(),
  calibrations: z.array(z.looseObject({ calibration_id: uuid, station: stationId, at: instant })),
  checks: z.array(z.looseObject({ check_id: uuid, calibration_id: uuid, station: stationId, at: instant })),
  /** Which record was put in force when, newest first. */
  in_force_since: z.array(z.looseObject({ calibration_id: uuid, at: instant, performed_by: z.string().nullable() })),
  /** Only where asked for: where the zero stood, oldest first. Counts, and N where the record it was found by is kept. */
  zeros: z
    .array(
      z.looseObject({
        at: instant,
        calibration_id: uuid,
        shift_counts: z.number(),
        zero_shift_N: number_,
        cause: z.string(),
        performed_by: z.string().nullable(),
      }),
    )
    .optional(),
});
export type CalibrationsResult = z.infer<typeof calibrationsResultSchema>;

/** `calibration-use`: `changed` false: it was in force already, and nothing was done. */
export const calibrationUseResultSchema = z.looseObject({
  calibration_id: uuid,
  /** What was in force before; null: nothing. */
  formerly: uuid.nullable(),
  changed: z.boolean(),
  /** Why there will be no force by it as the line is now, one sentence each. */
  warnings: z.array(z.string()),
  /** What to do next. */
  hint: z.string().optional(),
});

/** `import`: `imported` false: the very same record was here already. */
export const importResultSchema = z.looseObject({ calibration_id: uuid, station: stationId, imported: z.boolean() });
