/**
 * The one configuration schema. Defaults and limits live here and nowhere else; an unknown key refuses to start.
 * People type whole percent; the parsed configuration carries fractions where its name says so.
 */
import { z } from "zod";
import { stationId } from "../../protocol/messages/parts.ts";
import { RESISTANCES, STYLES } from "../../protocol/vocabulary.ts";
import { faultOfBrokerUrl } from "./broker-url.ts";

/** The kernel's limit is 107 bytes and a NUL; some others stop at 103. */
export const SOCKET_PATH_BYTES = 100;

export const DEFAULT_SOCKETS = { socket: "/run/tidemark/control.sock", service_socket: "/run/tidemark/service.sock" };

/** Rules between keys are judged beside faults in single keys, so that every fault is said at once; values may be missing. */
const ALWAYS = (): boolean => true;

const socketPath = z
  .string()
  .min(1)
  .refine((path) => Buffer.byteLength(path) <= SOCKET_PATH_BYTES, {
    message: `is over ${SOCKET_PATH_BYTES} bytes, more than a Unix socket's name may have`,
  });

const brokerSchema = z
  .strictObject({
    url: z.string().superRefine((url, context) => {
      const message = faultOfBrokerUrl(url);
      if (message !== null) context.addIssue({ code: "custom", message });
    }),
    username: z.string().min(1).optional(),
    password_file: z.string().min(1).optional(),
    ca_file: z.string().min(1).optional(),
    /** Ours, where the broker asks its clients for a certificate, and the key to it. */
    cert_file: z.string().min(1).optional(),
    key_file: z.string().min(1).optional(),
    root: z
      .string()
      .regex(/^[a-z0-9-]{1,40}$/)
      .default("tidemark"),
  })
  .superRefine(certificateFiles, { when: ALWAYS });

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
    /** The board's name in its hello, its own; swapped boards are refused. Absent: any board. */
    board: z
      .string()
      .regex(/^[A-Za-z0-9._/-]{1,32}$/)
      .optional(),
    gain: z.literal([128, 64]).default(128),
    rate: z.literal([10, 80]).default(80),
    resistance: z.enum(RESISTANCES),
    /** The serial number on the cell's label; calibration records name it, and hold for no other. Absent: not told. */
    cell: z
      .string()
      .trim()
      .min(1)
      .max(60)
      .regex(/^[^\p{Cc}\p{Cs}\p{Zl}\p{Zp}]*$/u, "must be one line of text")
      .optional(),
    cell_capacity_N: z.number().min(10).max(100_000),
    /** The weakest part of the load path. */
    force_limit_N: z.number().min(10).max(100_000),
    working_force_N: z.number().min(1).max(100_000),
    /** No default: a wrong one would put up to half a percent into every calibration by mass, and nobody would see it. */
    latitude_deg: z.number().min(-90).max(90),
    altitude_m: z.number().min(-450).max(6000).default(0),
    style: z.enum(STYLES).default("continuous"),
    peaks_per_repetition: z.literal([1, 2]).default(1),
    return_stroke: z.enum(["loaded", "unloaded"]).default("loaded"),
    /** What the machine itself puts on the sensor while it moves with nobody on it, N. */
    idle_stroke_N: z.number().min(0).max(100_000).default(0),
    subtract_resting: z.boolean().default(false),
    fatigue_threshold_percent: z.number().min(10).max(75).default(40),
    live_rate_Hz: z.number().min(1).max(50).default(10),
  })
  .refine((station) => !(station.working_force_N > station.cell_capacity_N), {
    path: ["working_force_N"],
    message: "is above cell_capacity_N, so the cell cannot read it",
    when: ALWAYS,
  });

export const configurationSchema = z
  .strictObject({
    site: stationId,
    recorder: stationId,
    time_zone: z.string().refine(knownZone, "is not a known time zone, such as Europe/Lisbon").default("UTC"),
    display_unit: z.enum(["N", "kgf", "lbf"]).default("N"),
    broker: brokerSchema.optional(),
    embedded_broker: embeddedSchema.prefault({}),
    store: z.strictObject({
      path: z.string().min(1),
      /** Sets that ended longer ago are erased. Absent: kept for ever. */
      keep_sets_days: z.int().min(30).max(36_500).optional(),
    }),
    control: z
      .strictObject({
        socket: socketPath.default(DEFAULT_SOCKETS.socket),
        service_socket: socketPath.default(DEFAULT_SOCKETS.service_socket),
        mqtt: z.array(z.enum(["read", "train", "service"])).default(["read"]),
      })
      .prefault({}),
    station: z.array(stationSchema).min(1, "needs at least one [[station]]"),
  })
  .superRefine(sharedThings, { when: ALWAYS });

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

/** Files that do nothing would let somebody believe in a protection that is not there. */
function certificateFiles(broker: unknown, context: z.core.$RefinementCtx): void {
  const { url, ...files } = (broker ?? {}) as Partial<Record<"url" | "ca_file" | "cert_file" | "key_file", unknown>>;
  for (const [key, other] of [
    ["cert_file", "key_file"],
    ["key_file", "cert_file"],
  ] as const) {
    if (files[key] === undefined || files[other] !== undefined) continue;
    context.addIssue({ code: "custom", path: [other], message: `is missing: broker.${key} is of no use without it` });
  }
  if (typeof url !== "string" || !/^(mqtt|ws):/.test(url)) return;
  for (const key of ["ca_file", "cert_file", "key_file"] as const) {
    const message = "is of no use here, nothing is encrypted: write mqtts:// or wss:// in broker.url, or leave it out";
    if (files[key] !== undefined) context.addIssue({ code: "custom", path: [key], message });
  }
}

/** What two parts of the configuration must not share. Runs on faulty configurations too: nothing is sure to be there. */
function sharedThings(configuration: unknown, context: z.core.$RefinementCtx): void {
  const { station: stations, control } = (configuration ?? {}) as PartialConfiguration;
  const fault = (path: PropertyKey[], message: string): void => context.addIssue({ code: "custom", path, message });
  for (const key of ["id", "serial_port", "board"] as const) {
    const firstAt = new Map<string, number>();
    for (const [index, station] of (Array.isArray(stations) ? stations : []).entries()) {
      const value = station?.[key];
      if (typeof value !== "string") continue;
      const first = firstAt.get(value);
      if (first === undefined) firstAt.set(value, index);
      else fault(["station", index, key], `is the same as station[${first}].${key}`);
    }
  }
  if (control?.socket !== undefined && control.socket === control.service_socket) {
    fault(["control", "service_socket"], "is the same as control.socket, which may not give service verbs");
  }
}

interface PartialConfiguration {
  readonly station?: readonly ({
    readonly id?: unknown;
    readonly serial_port?: unknown;
    readonly board?: unknown;
  } | null)[];
  readonly control?: { readonly socket?: unknown; readonly service_socket?: unknown } | null;
}
