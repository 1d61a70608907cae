/** A gym that is not there: stations that answer as told, a record in memory, a log that is read afterwards. */
import type { CalibrationRecord, CheckRecord } from "../../../calibration/record.ts";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { done, type Outcome } from "../../../protocol/requests/response.ts";
import type { StationRequest } from "../../../protocol/requests/verbs.ts";
import type { DispatcherPorts } from "../../../recorder/control/dispatcher.ts";
import type { Asker, WatchEvent } from "../../../recorder/control/ports.ts";
import type { InputLog, SavedZero, TagLink } from "../../../recorder/ports.ts";

export const SET_ID = "019ab3c0-1111-7000-8000-000000000001";
export const BOOT = "5f0c5e2e-0000-4000-8000-000000000001";
const STORE_ID = "5f0c5e2e-0000-4000-8000-0000000000aa";
export const CALIBRATION_ID = "5f0c5e2e-0000-4000-8000-0000000000cc";

/** A hold that came to its stop. Invented. */
export const SET: SetMessage = {
  schema_version: 1,
  at: "2026-11-24T17:03:40.500Z",
  clock_synced: true,
  recorder: "hall-box",
  boot: BOOT,
  simulated: false,
  set_id: SET_ID,
  store: STORE_ID,
  set_seq: 12,
  revision: 1,
  station: "leg-press",
  exercise: "leg-press",
  exercise_label: "Leg press",
  trainee: "T-07",
  side: "left",
  style: "rest-pause",
  intent: "maximal",
  warm_up: false,
  set_of_day: 2,
  rested_s: 312.4,
  fatigue_threshold: 0.4,
  options: {
    grace_s: 1,
    rest_limit_s: 40,
    time_limit_s: 900,
    effort_limit: null,
    below_floor_to_stop: 1,
    onset_force_N: 50,
    efforts_per_cluster: 2,
    tested_best_force_N: null,
    best_from: "set",
    ceiling_force_N: null,
  },
  tested_best_force_N: null,
  started_at: "2026-11-24T17:03:12.000Z",
  duration_s: 28.512,
  time_under_tension_s: 9.75,
  stop_reason: "effort-below-floor",
  ended_because: null,
  reached_threshold: true,
  cut_short: false,
  best_force_N: 1034.25,
  today_best_force_N: 1050,
  floor_force_N: 620.55,
  final_force_N: 601.2,
  force_loss: 0.4187,
  force_loss_today: 0.4274,
  force_loss_uncertainty: 0.0123,
  impulse_N_s: 7800.4,
  mean_force_N: 273.58,
  mean_effort_force_N: 800.04,
  decline_per_s: 0.01468,
  decline_per_effort: 0.2094,
  concentric_best_force_N: null,
  eccentric_best_force_N: null,
  decided_by: "any",
  efforts: [
    {
      effort_number: 1,
      start_s: 0,
      duration_s: 4.25,
      peak_force_N: 1034.25,
      valley_force_N: null,
      mean_force_N: 850,
      impulse_N_s: 3612.5,
      floor_force_N: null,
      muscle_action: null,
      below_floor: false,
      counted: true,
      brief: false,
    },
    {
      effort_number: 2,
      start_s: 12,
      duration_s: 0.4,
      peak_force_N: 210,
      valley_force_N: 3.2,
      mean_force_N: 120,
      impulse_N_s: 48,
      floor_force_N: 620.55,
      muscle_action: "concentric",
      below_floor: null,
      counted: false,
      brief: true,
    },
    {
      effort_number: 3,
      start_s: 22.9,
      duration_s: 5.5,
      peak_force_N: 601.2,
      valley_force_N: 2.9,
      mean_force_N: 761.44,
      impulse_N_s: 4187.9,
      floor_force_N: 620.55,
      muscle_action: null,
      below_floor: true,
      counted: true,
      brief: false,
    },
  ],
  resting_force_N: null,
  resting_subtracted: false,
  calibration_id: CALIBRATION_ID,
  expanded_uncertainty_N: 8.4,
  zero_shift_N: null,
  quality: {
    readings: 2281,
    readings_lost: 0,
    lines_rejected: 1,
    despiked: 2,
    saturated: 0,
    reading_rate_Hz: 80.02,
    noise_N: 0.62,
    best_unconfirmed: true,
    warming_up: false,
  },
  engine: "1",
  void: false,
  pain: null,
  exertion: null,
  note: null,
};

export const LOG: InputLog = {
  arm: { style: "rest-pause" },
  at_us: Float64Array.of(0, 12_500, 25_000),
  counts: Int32Array.of(84_123, 84_130, 84_119),
  events: [{ before: 1, event: { kind: "key" } }],
};

export const CALIBRATION = {
  record_version: 1,
  calibration_id: CALIBRATION_ID,
  station: "leg-press",
  at: "2026-10-01T08:00:00.000Z",
  performed_by: "P-01",
  zero_counts: 84_120,
  counts_per_N: 812.345678,
  points: [
    { force_N: 0, mass_kg: null, mean_counts: 84_120, standard_error_counts: 2, noise_counts: 40, readings: 240 },
    { force_N: 196.2, mass_kg: 20, mean_counts: 243_502, standard_error_counts: 2, noise_counts: 41, readings: 240 },
  ],
  working_force_N: 2500,
  cell_capacity_N: 5000,
  expanded_uncertainty_N: 12.5,
  budget: [],
  board: "press-left",
  amplifier: "hx711",
  gain: 128,
  due: "2027-10-01T08:00:00.000Z",
  note: null,
} as unknown as CalibrationRecord;

/** A known plate, hung a month later. */
export const CHECK: CheckRecord = {
  check_version: 1,
  check_id: "5f0c5e2e-0000-4000-8000-0000000000dd",
  calibration_id: CALIBRATION_ID,
  station: "leg-press",
  at: "2026-11-01T08:00:00.000Z",
  performed_by: "P-01",
  checks: [
    {
      force_N: 196.2,
      mass_kg: 20,
      mean_counts: 243_910,
      standard_error_counts: 2,
      noise_counts: 41,
      readings: 240,
      applied: { at: "handle", lever_angle_deg: 0, relative_tolerance: 0.001 },
      when: "as-found",
      loading: "increasing",
      series: 1,
      indicated_force_N: 196.7,
      relative_error: 0.0025,
    },
  ],
  zero_shift_N: 0.4,
  due: null,
  note: null,
};

/** The first is of a record that is not kept any more. */
export const ZEROS: readonly SavedZero[] = [
  {
    calibration_id: "5f0c5e2e-0000-4000-8000-0000000000cb",
    shift_counts: 100,
    asked_shift_counts: 100,
    at: "2026-09-01T08:00:00.000Z",
    cause: "asked",
    performed_by: "P-01",
  },
  {
    calibration_id: CALIBRATION_ID,
    shift_counts: 1000,
    asked_shift_counts: 0,
    at: "2026-10-02T08:00:00.000Z",
    cause: "tracked",
    performed_by: null,
  },
];

export const TAG: TagLink = {
  tag: "band-0142",
  trainee: "T-07",
  linked_at: "2026-11-01T08:00:00.000Z",
  performed_by: "P-01",
};

export interface Asked {
  readonly station: string;
  readonly request: StationRequest;
  readonly asker: Asker;
}

export interface Logged {
  readonly fields: { readonly err?: unknown; readonly request_id?: unknown };
  readonly message: string;
}

export interface FakeGym extends DispatcherPorts {
  readonly asked: Asked[];
  readonly logged: Logged[];
  /** What was asked for and done, as the log keeps it. */
  readonly audited: Logged[];
  /** Queries the record was asked. */
  readonly queried: unknown[];
  /** Records it was given to keep. */
  readonly imported: unknown[];
  /** What was asked of the record as a whole. */
  readonly cared: { readonly verb: string; readonly args: unknown }[];
  /** Of which station a set to be amended had to be. */
  readonly amended_within: (string | undefined)[];
  /** Says something to every watcher it concerns. */
  readonly happen: (event: WatchEvent) => void;
  readonly watchers: () => number;
}

export interface Behaviour {
  readonly answer?: (asked: Asked) => Promise<Outcome>;
  readonly record?: Partial<DispatcherPorts["store"]>;
  readonly status?: () => unknown;
  readonly records?: Partial<DispatcherPorts["records"]>;
  readonly curveOf?: DispatcherPorts["curveOf"];
}

export function fakeGym({ answer, record, status, records, curveOf }: Behaviour = {}): FakeGym {
  const asked: Asked[] = [];
  const logged: Logged[] = [];
  const audited: Logged[] = [];
  const queried: unknown[] = [];
  const imported: unknown[] = [];
  const caredFor: { verb: string; args: unknown }[] = [];
  const cared = (verb: string, args: unknown): Outcome => {
    caredFor.push({ verb, args });
    return done({ path: "/var/backups/record", notes: [] });
  };
  const amended_within: (string | undefined)[] = [];
  const watchers = new Set<{ station: string | undefined; listener: (event: WatchEvent) => void }>();
  return {
    asked,
    logged,
    audited,
    queried,
    imported,
    cared: caredFor,
    amended_within,
    happen: (event) => {
      for (const { station, listener } of watchers)
        if (station === undefined || station === event.station) listener(event);
    },
    watchers: () => watchers.size,
    stations: {
      ids: () => ["leg-press", "row"],
      status: status ?? ((station) => ({ of: station ?? "all" })),
      ask: async (station, request, asker) => {
        const heard = { station, request, asker };
        asked.push(heard);
        return answer?.(heard) ?? done({ set_id: SET_ID });
      },
      watch: (station, listener) => {
        const watcher = { station, listener };
        watchers.add(watcher);
        return () => watchers.delete(watcher);
      },
    },
    store: {
      sets: async (query) => {
        queried.push(query);
        return { store: STORE_ID, first_set_seq: 12, last_set_seq: 12, more: false, sets: [SET] };
      },
      set: async (set_id) => (set_id === SET_ID ? { message: SET, log: LOG } : null),
      calibrations: async () => [CALIBRATION],
      calibrationInForce: async () => CALIBRATION,
      calibrationDue: async () => CALIBRATION.due,
      putInForce: async () => [{ calibration_id: CALIBRATION_ID, at: CALIBRATION.at, performed_by: "P-01" }],
      checks: async () => [CHECK],
      zeros: async () => ZEROS,
      tags: async () => [TAG],
      ...record,
    },
    records: {
      amend: async (args, within) => {
        amended_within.push(within);
        return done({ set: { ...SET, ...args }, amended: true });
      },
      saveTag: async ({ tag, trainee }) => done({ tag, trainee }),
      importCalibration: async (calibration) => {
        imported.push(calibration);
        return done({ calibration_id: calibration["calibration_id"], station: calibration["station"], imported: true });
      },
      plans: async ({ station }) => done({ station, plans: [], more: false }),
      savePlan: async () => done({ plan: null, changed: true }),
      trend: async ({ station, trainee }) => done({ station, trainee, trends: [] }),
      ...records,
    },
    care: {
      backup: async (args) => cared("backup", args),
      restore: async (args) => cared("restore", args),
      erase: async (args) => cared("erase", args),
      exportTo: async (args) => cared("export", args),
      importFrom: async (path, performed_by) => cared("import", { path, performed_by }),
    },
    curveOf: curveOf ?? (async () => ({ elapsed_s: [-0.0125, 0, 0.0125], force_N: [0.01, null, -0.01] })),
    log: {
      info: (fields, message) => audited.push({ fields, message }),
      warn: (fields, message) => logged.push({ fields, message }),
      error: (fields, message) => logged.push({ fields, message }),
    },
  };
}
