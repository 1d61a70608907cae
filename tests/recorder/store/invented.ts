/** Invented sets, logs and records for the store's tests. Everything follows from the numbers given, so runs repeat. */
import type { CalibrationRecord, CheckRecord } from "../../../calibration/record.ts";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { InputLog, SetToKeep } from "../../../recorder/ports.ts";

/** Numbers in 0..1 from a seed: mulberry32, a public-domain generator [from memory]. */
export function numbers(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

export function uuidOf(number: number): string {
  return `01930000-0000-7000-8000-${number.toString(16).padStart(12, "0")}`;
}

export const START_MS = Date.parse("2026-11-24T09:00:00.000Z");
export const instantAt = (minutes: number): string => new Date(START_MS + minutes * 60_000).toISOString();

export function inventedSet(number: number, over: Partial<SetMessage> = {}): SetMessage {
  return {
    schema_version: 1,
    at: instantAt(number + 1),
    clock_synced: true,
    recorder: "hall-box",
    boot: uuidOf(0xb007),
    simulated: false,
    set_id: uuidOf(number),
    store: uuidOf(0),
    set_seq: 0,
    revision: 1,
    station: "leg-press",
    exercise: "leg-press",
    exercise_label: "Leg press",
    trainee: "t-01",
    side: "left",
    style: "hold",
    intent: "maximal",
    warm_up: false,
    set_of_day: 1,
    rested_s: null,
    fatigue_threshold: 0.4,
    options: {
      grace_s: 1,
      rest_limit_s: null,
      time_limit_s: 240,
      effort_limit: null,
      below_floor_to_stop: 1,
      onset_force_N: 50,
      efforts_per_cluster: 2,
      tested_best_force_N: null,
      best_from: "set",
      ceiling_force_N: null,
    },
    tested_best_force_N: null,
    started_at: instantAt(number),
    duration_s: 61.25,
    time_under_tension_s: 61.25,
    stop_reason: "hold-below-floor",
    ended_because: null,
    reached_threshold: true,
    cut_short: false,
    best_force_N: 1000 + number,
    today_best_force_N: null,
    floor_force_N: 600,
    final_force_N: 590.5,
    force_loss: 0.41,
    force_loss_today: null,
    force_loss_uncertainty: 0.012,
    impulse_N_s: 48_000.5,
    mean_force_N: 784,
    mean_effort_force_N: 784,
    decline_per_s: 0.0067,
    decline_per_effort: null,
    concentric_best_force_N: null,
    eccentric_best_force_N: null,
    decided_by: "any",
    efforts: [],
    resting_force_N: 12.5,
    resting_subtracted: false,
    calibration_id: uuidOf(0xca1),
    expanded_uncertainty_N: 9.5,
    zero_shift_N: null,
    quality: {
      readings: 4900,
      readings_lost: 0,
      lines_rejected: 0,
      despiked: 0,
      saturated: 0,
      reading_rate_Hz: 80,
      noise_N: 0.8,
      best_unconfirmed: false,
      warming_up: false,
    },
    engine: "1",
    void: false,
    pain: null,
    exertion: null,
    note: null,
    ...over,
  };
}

/** A log whose content follows from its number, so that a reader knows what must come back. */
export function inventedLog(number: number, readings = 200): InputLog {
  const next = numbers(number);
  const at_us: number[] = [];
  const counts: number[] = [];
  let time = 5_000_000_000 + number;
  for (let index = 0; index < readings; index++) {
    time += 12_400 + Math.floor(next() * 200);
    at_us.push(time);
    counts.push(Math.floor(80_000 * Math.sin(index / 50) + 80 * next()));
  }
  return {
    arm: { station: "leg-press", number },
    at_us,
    counts,
    events: [
      { before: 0, event: { kind: "zero", counts: -1234 } },
      { before: readings, event: { kind: "end", because: null } },
    ],
  };
}

/** A log with plain arrays, whatever it was made of. */
export const plainLog = (log: InputLog): InputLog => ({
  ...log,
  at_us: Array.from(log.at_us),
  counts: Array.from(log.counts),
});

export function toKeep(message: SetMessage, setup = "seat=3", log = inventedLog(1)): SetToKeep {
  return { message, setup, log, topic: `tidemark/north-hall/station/${message.station}/set` };
}

export function inventedRecord(number: number, over: Partial<CalibrationRecord> = {}): CalibrationRecord {
  const point = { mass_kg: null, standard_error_counts: 0.5, noise_counts: 40, readings: 240 };
  return {
    record_version: 1,
    calibration_id: uuidOf(0xca0000 + number),
    station: "leg-press",
    at: instantAt(number),
    performed_by: "tech-1",
    zero_counts: 81_234.25,
    counts_per_N: -41.125,
    points: [
      { ...point, force_N: 0, mean_counts: 81_234.25 },
      { ...point, force_N: 980.5, mean_counts: 40_911.0 },
    ],
    working_force_N: 2500,
    cell_capacity_N: 5000,
    expanded_uncertainty_N: 11.5,
    budget: [{ source: "mass", standard_uncertainty_N: 0.5 }],
    board: "press-left",
    amplifier: "hx711",
    gain: 128,
    due: null,
    note: null,
    ...over,
  };
}

/** One known load, hung to see whether record `of` still holds; due a year on. */
export function inventedCheck(number: number, over: Partial<CheckRecord> = {}, of = inventedRecord(1)): CheckRecord {
  return {
    check_version: 1,
    check_id: uuidOf(0xc4ec0000 + number),
    calibration_id: of.calibration_id,
    station: of.station,
    at: instantAt(number),
    performed_by: "tech-1",
    checks: [
      {
        force_N: 490.25,
        mass_kg: 50,
        mean_counts: 61_070,
        standard_error_counts: 0.5,
        noise_counts: 40,
        readings: 240,
        applied: { at: "cell", lever_angle_deg: null, relative_tolerance: 0.001 },
        when: "as-found",
        loading: "increasing",
        series: 1,
        indicated_force_N: 490.3,
        relative_error: 0.0001,
      },
    ],
    zero_shift_N: 0.5,
    due: instantAt(number + 365 * 24 * 60),
    note: null,
    ...over,
  };
}
