/**
 * The one configuration schema. Defaults and limits live here and nowhere else; an unknown key refuses to start.
 * People type whole percent; the parsed configuration carries fractions where its name says so.
 */
import { z } from "zod";
import { stationId } from "../../protocol/messages/parts.ts";
import { RESISTANCES, STYLES } from "../../protocol/vocabulary.ts";

const brokerSchema = z.strictObject({
  url: z.string().regex(/^(mqtts?|wss?):\/\/\S+$/, "must start with mqtt://, mqtts://, ws:// or wss://"),
  username: z.string().min(1).optional(),
  password_file: z.string().min(1).optional(),
  ca_file: z.string().min(1).optional(),
  root: z
    .string()
    .regex(/^[a-z0-9-]{1,40}$/)
    .default("tidemark"),
});

const embeddedSchema = z.strictObject({
  /** Loopback only: the embedded broker has no passwords. */
  port: z.int().min(0).max(65_535).default(1883),
});

const stationSchema = z
  .strictObject({
    id: stationId,
    exercise: z.string().min(1).max(60),
    exercise_label: z.string().min(1).max(60).optional(),
    serial_port: z.string().min(1),
    dialect: z.enum(["tm1", "bare"]).default("tm1"),
    /** The board's name in its hello; swapped boards are refused. Absent: any board. */
    board: z
      .string()
      .regex(/^[A-Za-z0-9._/-]{1,32}$/)
      .optional(),
    gain: z.union([z.literal(128), z.literal(64)]).default(128),
    rate: z.union([z.literal(10), z.literal(80)]).default(80),
    resistance: z.enum(RESISTANCES),
    cell_capacity_N: z.number().min(10).max(100_000),
    /** The weakest part of the load path. */
    force_limit_N: z.number().min(10).max(100_000),
    working_force_N: z.number().min(1).max(100_000),
    latitude_deg: z.number().min(-90).max(90).default(45),
    altitude_m: z.number().min(-450).max(6000).default(0),
    style: z.enum(STYLES).default("continuous"),
    peaks_per_repetition: z.union([z.literal(1), z.literal(2)]).default(1),
    return_stroke: z.enum(["loaded", "unloaded"]).default("loaded"),
    /** What the machine itself puts on the sensor while it moves with nobody on it, N. */
    idle_stroke_N: z.number().min(0).max(100_000).default(0),
    subtract_resting: z.boolean().default(false),
    fatigue_threshold_percent: z.number().min(10).max(75).default(40),
    live_rate_Hz: z.number().min(1).max(50).default(10),
  })
  .refine((station) => station.working_force_N <= station.cell_capacity_N, {
    path: ["working_force_N"],
    message: "is above cell_capacity_N: the cell cannot read it",
  });

export const configurationSchema = z
  .strictObject({
    site: stationId,
    recorder: stationId,
    time_zone: z.string().refine(knownZone, "is not a known time zone, such as Europe/Lisbon").default("UTC"),
    display_unit: z.enum(["N", "kgf", "lbf"]).default("N"),
    broker: brokerSchema.optional(),
    embedded_broker: embeddedSchema.prefault({}),
    store: z.strictObject({ path: z.string().min(1) }),
    control: z
      .strictObject({
        socket: z.string().min(1).default("/run/tidemark/control.sock"),
        service_socket: z.string().min(1).default("/run/tidemark/service.sock"),
        mqtt: z.array(z.enum(["read", "train", "service"])).default(["read"]),
      })
      .prefault({}),
    station: z.array(stationSchema).min(1, "needs at least one [[station]]"),
  })
  .superRefine((configuration, context) => {
    const seen = new Set<string>();
    for (const [index, station] of configuration.station.entries()) {
      if (seen.has(station.id)) {
        context.addIssue({ code: "custom", path: ["station", index, "id"], message: `"${station.id}" is used twice` });
      }
      seen.add(station.id);
    }
  });

export type Configuration = z.infer<typeof configurationSchema>;
export type StationConfiguration = Configuration["station"][number];

function knownZone(zone: string): boolean {
  try {
    new Intl.DateTimeFormat("en", { timeZone: zone });
    return true;
  } catch {
    return false;
  }
}
