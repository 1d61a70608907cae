/**
 * Is the uncertainty that a set states true? Eight hours at one simulated station: the room's temperature swings, the
 * cell creeps and its zero drifts by several divisions, the lever's bearing rubs, and a hundred holds of known force are
 * done, with the machine idle in between and the zero following by itself.
 *
 * A day has one calibration, and its scale is off by the same share in every set. So each set is read again from its own
 * log by the calibration of another technician, a hundred in all: each taken at the same rig through the procedure, with
 * a load that was off by something within the tolerance stated for it, and gravity by something within its own.
 *
 * The measure is |error| / U, set by set. What holds 95 % of them is the observed spread in units of U: above 1, U is too
 * narrow; below 1/2, U is wider than twice the spread. None may lie beyond 1.5.
 */
import { beforeAll, describe, expect, it } from "vitest";
import { median3 } from "../../../calibration/median.ts";
import { NO_PROCEDURE, stepProcedure } from "../../../calibration/procedure/procedure.ts";
import type { Procedure, ProcedureFacts, ProcedureInput } from "../../../calibration/procedure/procedure-state.ts";
import type { CalibrationRecord } from "../../../calibration/record.ts";
import { division_N } from "../../../calibration/scale.ts";
import { readLog } from "../../../recorder/run/read-log.ts";
import { seedFor, uniformAt } from "../../../recorder/simulated-gym/random.ts";
import {
  convert,
  type Rig,
  type RigState,
  trueCountsPerN,
  trueZeroCounts,
  UNLOADED,
} from "../../../recorder/simulated-gym/rig.ts";
import { setMessageOf } from "../../../recorder/station/set-message.ts";
import { pathEvent, replayPath, type SetPath } from "../../../recorder/station/set-path.ts";
import { Bench, holdCurve, KEPT, stationConfiguration } from "./bench.ts";

const SEEDS = process.env["TIDEMARK_LONG"] === "1" ? [1, 2, 3, 4, 5, 6, 7, 8] : [1];
const SETS = 100;
const DAY_S = 8 * 3600;
/** From arming to ten seconds after letting go. */
const SET_S = 40;
const RATE_HZ = 10;
const CAPACITY_N = 2000;
const CHANGES = {
  resistance: "locked",
  style: "hold",
  rate: RATE_HZ,
  live_rate_Hz: 1,
  cell_capacity_N: CAPACITY_N,
  force_limit_N: 1500,
  working_force_N: 500,
} as const;
const STATION = stationConfiguration(CHANGES);
/** Half-widths technicians state: a class M1 weight and better, a plate from a good scale, and what is taken unasked. */
const TOLERANCES = [0.001, 0.002, 0.005, 0.01];
/** What the calibration room allows for local gravity. */
const GRAVITY = 2e-4;

/** A poor cell in a hall that is warm by the afternoon: its zero wanders by about three divisions either way. */
const RIG: Rig = {
  cell_capacity_N: CAPACITY_N,
  sensitivity_mV_per_V: 2,
  zero_mV_per_V: 0.02,
  excitation_V: 5,
  zero_drift_per_degC: 1e-4,
  temperature_swing_degC: 6,
  temperature_swing_s: DAY_S,
  creep: 2e-4,
  creep_s: 300,
  friction_N: 0.3,
  spikes_per_hour: 20,
  spike_counts: 400_000,
};

/** Uniform in -1..1. */
const within = (seed: number, source: string, index: number): number => 2 * uniformAt(seedFor(seed, source), index) - 1;

/** The rig with its state, read on and on. */
class Readings {
  state: RigState = UNLOADED;
  at_s: number;
  readonly #seed: number;
  readonly #rig: Rig;

  constructor(seed: number, at_s: number, rig: Rig = RIG) {
    this.#seed = seed;
    this.at_s = at_s;
    this.#rig = rig;
  }

  next(handle_N: number): number {
    this.at_s += 1 / RATE_HZ;
    const moment = { handle_N, elapsed_s: 1 / RATE_HZ, at_s: this.at_s, gain: 128, rate: RATE_HZ } as const;
    const step = convert(this.#rig, this.state, moment, this.#seed);
    this.state = step.state;
    return step.counts;
  }
}

/** One technician's visit: nothing on, a load from below, the same from above, accept. */
function calibrated(seed: number, index: number): CalibrationRecord {
  const own = (source: string): number => within(seed, `technician ${source}`, index);
  const tolerance = TOLERANCES[index % TOLERANCES.length]!;
  const mass_kg = 30 + 10 * own("mass");
  const facts: ProcedureFacts = {
    ...STATION,
    station: STATION.id,
    board: "press-left",
    amplifier: "hx711",
    gain: 128,
    powered_up_at_us: null,
    cell: null,
    in_force: null,
  };
  // At any time of any day.
  const rig = new Readings(seedFor(seed, `visit ${index}`), (DAY_S / 2) * (1 + own("hour")));
  let state: Procedure = NO_PROCEDURE;
  let record: CalibrationRecord | null = null;
  let answer: { ok: boolean; result?: unknown } | null = null;
  let at_us = 0;
  const raw: number[] = [];
  const give = (input: ProcedureInput): void => {
    const step = stepProcedure(state, input);
    state = step.state;
    for (const effect of step.effects) {
      if (effect.do === "answer") answer = effect.outcome;
      if (effect.do === "accepted") record = effect.record as CalibrationRecord;
    }
  };
  const read = (handle_N: number, seconds: number): void => {
    for (let reading = 0; reading < seconds * RATE_HZ; reading += 1) {
      at_us += 1e6 / RATE_HZ;
      raw.push(rig.next(handle_N));
      const [before2 = Number.NaN, before1 = Number.NaN, newest = Number.NaN] = raw.slice(-3);
      const counts = median3(before2, before1, newest);
      if (!Number.isNaN(counts)) give({ kind: "reading", at_us, counts });
    }
  };
  const capture = (input: ProcedureInput, handle_N: number): void => {
    // Two spikes side by side get through a median of three; whoever is told "not still" takes the point again.
    for (let time = 0; time < 3; time += 1) {
      answer = null;
      give(input);
      read(handle_N, 24);
      if ((answer as { ok: boolean } | null)?.ok === true) return;
    }
    throw new Error(`technician ${index}: ${JSON.stringify(answer)}`);
  };
  give({ kind: "begin", request: "begin", by: "tech-1", now: "2026-11-24T10:00:00.000Z", at_us, facts });
  capture({ kind: "zero", request: "zero" }, 0);
  const load = { kind: "load", mass_kg, relative_tolerance: tolerance } as const;
  // The nominal force first, to learn what the procedure makes of the mass; the true load is off from it.
  const nominal_N = mass_kg * 9.8124740779 * (1 - 1.2 / 8000);
  const true_N = nominal_N * (1 + tolerance * own("load")) * (1 + GRAVITY * own("gravity"));
  const up = { ...load, loading: "increasing" } as const;
  const down = { ...load, loading: "decreasing" } as const;
  capture({ ...up, request: "up" }, true_N);
  read(true_N + 20, 2);
  capture({ ...down, request: "down" }, true_N);
  // A check with a load a third as heavy, known as well as the first, and with nothing on.
  const lighter = { kind: "check", loading: "increasing", relative_tolerance: tolerance } as const;
  read(0, 2);
  const third_N = (nominal_N / 3) * (1 + tolerance * own("check")) * (1 + GRAVITY * own("gravity"));
  capture({ ...lighter, request: "check", mass_kg: mass_kg / 3 }, third_N);
  read(0, 2);
  capture({ ...lighter, request: "empty", force_N: 0, loading: "decreasing" }, 0);
  give({
    kind: "accept",
    request: "accept",
    note: null,
    due: null,
    calibration_id: `aaaaaaaa-0000-4000-8000-${index.toString().padStart(12, "0")}`,
    at: "2026-11-24T10:05:00.000Z",
    clock_synced: true,
  });
  if (record === null) throw new Error(`technician ${index}: nothing was accepted`);
  return record;
}

interface Day {
  readonly bench: Bench;
  /** True best of each set, N. */
  readonly truths_N: readonly number[];
  /** How far the zero stood from the calibrated one, counts, at every reading of somebody's set or of the 10 s after. */
  readonly busy_shifts: readonly (readonly number[])[];
  readonly shifts_N: readonly number[];
}

function day(seed: number, record: CalibrationRecord): Day {
  const rig = new Readings(seedFor(seed, "day"), 0);
  const bench = new Bench({ station: CHANGES, rate_Hz: RATE_HZ, board: { rate: RATE_HZ }, host_speed: 0.05, record });
  bench.open();
  const shift_counts = (): number => bench.station.sensor.zero?.held.shift_counts ?? Number.NaN;
  const pull = (seconds: number, force: (s: number) => number, seen: (counts: number) => void = () => {}): void => {
    for (let reading = 1; reading <= seconds * RATE_HZ; reading += 1) {
      bench.read(rig.next(force(reading / RATE_HZ)));
      seen(shift_counts());
    }
  };
  // The calibration is of another day and another temperature: somebody zeroes before the first trainee comes.
  pull(60, () => 0);
  bench.ask("zero");
  pull(3, () => 0);
  expect(bench.answer()).toMatchObject({ ok: true });
  const truths_N: number[] = [];
  const busy_shifts: number[][] = [];
  const shifts_N: number[] = [];
  for (let set = 0; set < SETS; set += 1) {
    pull(DAY_S / SETS - SET_S, () => 0);
    shifts_N.push(shift_counts() / record.counts_per_N);
    // Level for six seconds: the best is that level, by any of the rules for it.
    const best_N = STATION.working_force_N * (0.5 + 0.35 * within(seed, "best", set));
    truths_N.push(best_N);
    bench.begin({ style: "hold", fatigue_threshold: 0.4 });
    const hold = holdCurve(best_N, 6, best_N / 30);
    const busy: number[] = [shift_counts()];
    pull(
      SET_S,
      (s) => (s < 2 || s > SET_S - 10 ? 0 : hold(s - 2)),
      (counts) => busy.push(counts),
    );
    busy_shifts.push(busy);
  }
  return { bench, truths_N, busy_shifts, shifts_N };
}

interface Judged {
  readonly error_N: number;
  readonly U_N: number;
}

/** By another scale and zero the floor may lie lower than the log goes. */
const ended = (path: SetPath): SetPath =>
  path.engine.is === "over" ? path : pathEvent(path, { kind: "end", at_us: path.last_us, because: null }).path;

/** Each set as another technician's calibration makes it; `zero_counts` null: with the zero that was in use. */
function judged({ bench, truths_N }: Day, records: readonly CalibrationRecord[], zero_counts: number | null): Judged[] {
  return bench.kept.map(({ log }, index) => {
    const read = readLog(log);
    if (!read.ok) throw new Error(read.why);
    const calibration = records[index]!;
    const facts = { ...read.facts, calibration, zero_counts: zero_counts ?? read.facts.zero_counts };
    const path = ended(replayPath(facts, read.log));
    if (path.engine.is !== "over") throw new Error(`set ${index} is not over`);
    const message = setMessageOf(path, path.engine.result, KEPT);
    return { error_N: message.best_force_N! - truths_N[index]!, U_N: message.expanded_uncertainty_N! };
  });
}

/** |error| / U, from the smallest up. */
const ratios = (sets: readonly Judged[]): number[] =>
  sets.map(({ error_N, U_N }) => Math.abs(error_N) / U_N).sort((a, b) => a - b);

describe.each(SEEDS)("eight hours and a hundred sets, seed %d", (seed) => {
  let records: CalibrationRecord[];
  let today: Day;

  beforeAll(() => {
    records = Array.from({ length: SETS }, (_, index) => calibrated(seed, index));
    today = day(seed, records[0]!);
  }, 120_000);

  it("95 bests and more lie within U of the truth, none beyond 1.5 U, and U is at most twice their spread", () => {
    const all = ratios(judged(today, records, null));
    expect(all).toHaveLength(SETS);
    const holds_95 = all[94]!;
    console.log(`seed ${seed}: 95 % within ${holds_95.toFixed(2)} U, the worst at ${all[99]!.toFixed(2)} U`);
    expect(holds_95).toBeLessThanOrEqual(1);
    expect(all[99]).toBeLessThanOrEqual(1.5);
    expect(1 / holds_95).toBeLessThanOrEqual(2);
  });

  it("the zero went with the drift, by several divisions, and never outside idle", () => {
    const span_N = Math.max(...today.shifts_N) - Math.min(...today.shifts_N);
    expect(span_N / division_N(CAPACITY_N)).toBeGreaterThan(4);
    for (const busy of today.busy_shifts) expect(new Set(busy).size).toBe(1);
    expect(today.bench.alarm("zero-out-of-range")).toBeNull();
    expect(today.bench.alarm("zero-suspect")).toBeNull();
  });

  it("by the zero of the morning, more than 5 bests would be beyond their U: the trial can fail", () => {
    const [first] = today.bench.kept;
    const morning = readLog(first!.log);
    if (!morning.ok) throw new Error(morning.why);
    expect(ratios(judged(today, records, morning.facts.zero_counts))[94]).toBeGreaterThan(1);
  });
});

describe("a cell that drifts further than the zero may follow", () => {
  it("raises zero-out-of-range at 2 % of capacity, and nothing zeroes it but somebody who asks", () => {
    const record = { ...calibrated(1, 0), zero_counts: trueZeroCounts(RIG, 128) };
    const bench = new Bench({ station: CHANGES, rate_Hz: RATE_HZ, board: { rate: RATE_HZ }, host_speed: 0.05, record });
    bench.open();
    const rig = new Readings(3, 0, { ...RIG, zero_drift_per_degC: 0, creep: 0 });
    /** As if its zero had moved by so much; friction does not hold that up. */
    const read = (seconds: number, drift_N: (reading: number) => number): void => {
      for (let reading = 0; reading < seconds * RATE_HZ; reading += 1) {
        bench.read(rig.next(0) + Math.round(drift_N(reading) * trueCountsPerN(RIG, 128)));
      }
    };
    const shift_N = (): number => (bench.station.sensor.zero?.held.shift_counts ?? Number.NaN) / record.counts_per_N;
    const most_N = 0.02 * CAPACITY_N;
    const end_N = 0.03 * CAPACITY_N;
    let alarmed_N: number | null = null;
    let furthest_N = 0;
    // Half as fast as the zero may follow.
    read(6000, (reading) => {
      const drift_N = end_N * Math.min(1, reading / 60_000);
      if (alarmed_N === null && bench.alarm("zero-out-of-range") !== null) alarmed_N = drift_N;
      furthest_N = Math.max(furthest_N, Math.abs(shift_N()));
      return drift_N;
    });
    expect(furthest_N).toBeCloseTo(most_N, 6);
    expect(alarmed_N).not.toBeNull();
    expect(Math.abs(alarmed_N! / most_N - 1)).toBeLessThan(0.02);
    expect(bench.alarm("zero-out-of-range")).toMatch(/zero has drifted 40 N/);
    // What it could not follow is shown as a force, and a reconnected board changes nothing.
    expect(bench.force_N).toBeCloseTo(end_N - most_N, 0);
    bench.give({ kind: "closed" });
    bench.open();
    read(600, () => end_N);
    expect(bench.force_N).toBeCloseTo(end_N - most_N, 0);
    expect(shift_N()).toBeCloseTo(most_N, 6);
    expect(bench.alarm("zero-out-of-range")).not.toBeNull();
    // More than max(0.5 % of capacity, 10 N): asked twice.
    bench.ask("zero");
    read(3, () => end_N);
    expect(bench.answer()).toMatchObject({ ok: false });
    bench.ask("zero", { confirm: true });
    read(3, () => end_N);
    expect(bench.answer()).toMatchObject({ ok: true });
    expect(shift_N()).toBeCloseTo(end_N, 0);
    expect(Math.abs(bench.force_N!)).toBeLessThan(0.5);
    read(120, () => end_N);
    expect(bench.alarm("zero-out-of-range")).toBeNull();
  }, 120_000);
});
