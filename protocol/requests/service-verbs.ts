/** The verbs of who looks after the sensors and the record. */
import { z } from "zod";
import { traineeCode, uuid } from "../messages/parts.ts";
import { acting, by, load, loading, ONE_LOAD, oneLine, oneLoad, type VerbRule } from "./verb-parts.ts";

/** Of the recorder's machine, and read or written with the recorder's rights. */
const filePath = z
  .string()
  .max(4000)
  .regex(/^\/[^\0]+$/, "must be a whole path, from / on");
const ONE_SOURCE = "give either path or calibration";

export const SERVICE_VERBS = {
  "calibration-begin": { group: "service", args: z.strictObject(acting) },
  "calibration-zero": { group: "service", args: z.strictObject(acting) },
  "calibration-load": {
    group: "service",
    args: z.strictObject({ ...acting, ...load, loading: loading.optional() }).refine(oneLoad, ONE_LOAD),
  },
  /** Before a new load point: what the record in force says of it, as found. After: what the new scale says, as left. */
  "calibration-check": {
    group: "service",
    args: z
      .strictObject({
        ...acting,
        ...load,
        force_N: z
          .number()
          .min(0)
          .max(200_000)
          .optional()
          .describe("0: with nothing on, where a series begins and ends."),
        loading,
        series: z.int().min(1).max(3).optional(),
      })
      .refine(oneLoad, ONE_LOAD),
  },
  "calibration-accept": {
    group: "service",
    args: z.strictObject({
      ...acting,
      note: oneLine.optional(),
      due: z.iso.datetime({ offset: true }).optional(),
    }),
  },
  "calibration-abandon": { group: "service", args: z.strictObject(acting) },
  /** Puts a kept record in force again. */
  "calibration-use": { group: "service", args: z.strictObject({ ...acting, calibration_id: uuid }) },
  /**
   * What `export` wrote, sets with their logs, plans, tags and calibrations; or one calibration record of elsewhere, or of
   * before. What is kept already stays as it is, and no record is in force until somebody says calibration-use.
   */
  import: {
    group: "service",
    over_mqtt: false,
    args: z
      .strictObject({ ...by, calibration: z.record(z.string(), z.unknown()).optional(), path: filePath.optional() })
      .refine((value) => (value.calibration === undefined) !== (value.path === undefined), ONE_SOURCE),
  },
  /** Sets with their logs, plans, tags and calibrations as JSON Lines: of everybody, or of one trainee. */
  export: {
    group: "service",
    over_mqtt: false,
    args: z.strictObject({ ...by, path: filePath, trainee: traineeCode.optional() }),
  },
  /** A whole copy of the store while it is in use, read back before it is said to be one. */
  backup: { group: "service", over_mqtt: false, args: z.strictObject({ ...by, path: filePath }) },
  /** Puts a backup in the place of the store, which is kept beside it. The recorder ends, and begins again with it. */
  restore: { group: "service", over_mqtt: false, args: z.strictObject({ ...by, path: filePath }) },
  /** Removes one trainee from everything that is kept here, and says what still holds them. */
  erase: { group: "service", over_mqtt: false, args: z.strictObject({ ...by, trainee: traineeCode }) },
  /** Readings at rest, for whoever looks after the sensor; the station is taken meanwhile. */
  "self-test": {
    group: "service",
    over_mqtt: false,
    args: z.strictObject({
      ...acting,
      duration_s: z.number().min(2).max(60).default(10),
      lamps: z.boolean().default(false).describe("Both lamps are lit for a second each, for somebody to see."),
    }),
  },
  inspected: { group: "service", args: z.strictObject(acting) },
} as const satisfies Record<string, VerbRule>;
