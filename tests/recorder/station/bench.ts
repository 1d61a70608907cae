/**
 * One station of the recorder on a bench: the pure reducer, a fake board on its line, and a host clock that goes as the
 * test says. Every message it publishes is checked against the published schemas, in every test.
 *
 * Device time is counted in s from the start of the bench (`at_s`). The host's clock goes with it, `host_speed` times as
 * fast; ticks come every 50 ms of the host's. Force in N is turned into counts by the record's own figures, with a few
 * counts of noise, since an amplifier that repeats itself is at fault.
 */
import type { CalibrationRecord } from "../../../calibration/record.ts";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { StationTopic } from "../../../protocol/messages/topics.ts";
import type { Outcome } from "../../../protocol/requests/response.ts";
import type { ArgsOf, BeginArgs, StationVerb } from "../../../protocol/requests/verbs.ts";
import type { MuscleAction, Phase } from "../../../protocol/vocabulary.ts";
import { configurationSchema, type StationConfiguration } from "../../../recorder/configuration/schema.ts";
import type { History, InputLog } from "../../../recorder/ports.ts";
import type { AskedThrough, Body, Now, StationEffect, StationInput } from "../../../recorder/station/exchange.ts";
import { setMessageOf } from "../../../recorder/station/set-message.ts";
import { type BoardHomes, newStation, phaseOf, type Station } from "../../../recorder/station/state.ts";
import { stepStation } from "../../../recorder/station/station.ts";
import { validateMessage } from "../../protocol/messages/validate.ts";
import { FakeBoard } from "./fake-board.ts";

export const CALIBRATION_ID = "6f2d1c1e-8a70-4f60-9d4c-2f1a0b9c7d11";
export const KEPT = {
  recorder: "hall-box",
  boot: "0d9a2b6f-7f1c-4a57-9f0c-7c115a52e6f0",
  store: "7c8f2d1b-90c7-4b0d-8a55-a41f3e4b0a9a",
} as const;
/** Of every bench: ten in the morning of an invented Tuesday. */
export const BEGINS_MS = Date.parse("2026-11-24T10:00:00.000Z");

export const COUNTS_PER_N = 400;
export const ZERO_COUNTS = 12_000;

export function stationConfiguration(changes: Partial<Record<keyof StationConfiguration, unknown>> = {}) {
  const station = {
    id: "leg-press",
    exercise: "leg-press",
    exercise_label: "Leg press",
    serial_port: "/dev/press",
    board: "press-left",
    resistance: "driven",
    cell_capacity_N: 5000,
    force_limit_N: 4000,
    working_force_N: 2500,
    latitude_deg: 52,
    ...changes,
  };
  const parsed = configurationSchema.parse({
    site: "north-hall",
    recorder: KEPT.recorder,
    store: { path: "unused.db" },
    station: [station],
  });
  return parsed.station[0] as StationConfiguration;
}

export function record(changes: Partial<CalibrationRecord> = {}): CalibrationRecord {
  const point = { mass_kg: null, standard_error_counts: 0.5, noise_counts: 4, readings: 240 };
  const counts_per_N = changes.counts_per_N ?? COUNTS_PER_N;
  const zero_counts = changes.zero_counts ?? ZERO_COUNTS;
  return {
    record_version: 1,
    calibration_id: CALIBRATION_ID,
    station: "leg-press",
    at: "2026-11-01T09:00:00.000Z",
    performed_by: "tech-1",
    zero_counts,
    counts_per_N,
    points: [
      { ...point, force_N: 0, mean_counts: zero_counts },
      { ...point, force_N: 1000, mean_counts: zero_counts + 1000 * counts_per_N },
    ],
    working_force_N: 2500,
    cell_capacity_N: 5000,
    expanded_uncertainty_N: 6,
    budget: [{ source: "load tolerance", standard_uncertainty_N: 3 }],
    board: "press-left",
    amplifier: "hx711",
    gain: 128,
    due: null,
    note: null,
    ...changes,
  };
}

/** As a calibration on a `bare` line leaves it. */
export const UNNAMED = { board: null, amplifier: null, gain: null } as const;

export const NO_HISTORY: History = {
  comparable: null,
  today_best_force_N: null,
  sets_here: 0,
  eccentric_sets_here: 0,
  set_of_day: 1,
  last_set_ended_at: null,
};
/** A trainee who has trained here before, so that the station's own threshold holds. */
export const KNOWN: History = { ...NO_HISTORY, sets_here: 5, eccentric_sets_here: 5, set_of_day: 2 };

export interface Recorded {
  /** Device time of the bench, s. */
  readonly at_s: number;
  readonly effect: StationEffect;
}

export interface BenchOptions {
  readonly station?: Partial<Record<keyof StationConfiguration, unknown>>;
  /** null: none in force. */
  readonly record?: CalibrationRecord | null;
  readonly board?: ConstructorParameters<typeof FakeBoard>[0];
  readonly board_homes?: BoardHomes;
  readonly history?: History;
  /** Host seconds for each device second. */
  readonly host_speed?: number;
  /** Sees every state and input, before and after. */
  readonly watch?: (station: Station, input: StationInput) => void;
  /** Amplitude of the noise, counts. */
  readonly noise_counts?: number;
  readonly rate_Hz?: number;
}

const TICK_MS = 50;

export class Bench {
  readonly board: FakeBoard;
  readonly recorded: Recorded[] = [];
  readonly options: BenchOptions;
  station: Station;
  history: History;
  /** A record to ask instead. */
  historyOf: ((args: BeginArgs) => History) | null = null;
  /** Whom tags are linked to. */
  links: Readonly<Record<string, string>> = {};
  at_s = 0;
  rate_Hz: number;
  /** Host's monotonic clock, ms, and how far its wall clock is ahead of the plan. */
  now_ms = 5000;
  #answers = new Map<string, Outcome>();
  /** Requests of keys, not answered yet. */
  readonly #pressed = new Map<string, StationVerb>();
  #asked = 0;
  #sets = 0;
  #noise = 1;
  #ticked_ms = 5000;
  #owed_us = 0;

  constructor(options: BenchOptions = {}) {
    this.options = options;
    this.board = new FakeBoard(options.board);
    this.rate_Hz = options.rate_Hz ?? 80;
    this.history = options.history ?? KNOWN;
    this.station = newStation(stationConfiguration(options.station), false, options.board_homes);
    const inForce = options.record === undefined ? record() : options.record;
    if (inForce !== null) this.give({ kind: "calibration", record: inForce, zero: null });
  }

  get now(): Now {
    return { ms: this.now_ms, wall_ms: BEGINS_MS + this.now_ms, clock_synced: true };
  }

  get phase(): Phase {
    return phaseOf(this.station);
  }

  get force_N(): number | null {
    return this.station.sensor.force_N;
  }

  alarm(code: string): string | null {
    return this.station.desk.alarms.find((alarm) => alarm.code === code)?.detail ?? null;
  }

  /** One input, and all that follows from it on the line and through the doors. */
  give(input: StationInput): void {
    const { now } = this;
    this.options.watch?.(this.station, input);
    const { station, effects } = stepStation(this.station, input, now);
    this.station = station;
    for (const effect of effects) this.#carry(effect, now);
    this.#listen();
  }

  #carry(effect: StationEffect, now: Now): void {
    this.recorded.push({ at_s: this.at_s, effect });
    switch (effect.do) {
      case "write":
        this.board.hear(effect.text);
        break;
      case "answer": {
        if (this.#answers.has(effect.request_id)) throw new Error(`${effect.request_id} is answered twice`);
        this.#answers.set(effect.request_id, effect.outcome);
        const asked = this.#pressed.get(effect.request_id);
        this.#pressed.delete(effect.request_id);
        if (asked === undefined || effect.outcome.ok) break;
        this.give({ kind: "key-refused", asked, why: effect.outcome.error.message });
        break;
      }
      case "dispatch":
        this.#pressed.set(`r-${this.#asked + 1}`, effect.verb);
        this.ask(effect.verb, effect.args as never, "key");
        break;
      case "look-up-tag":
        this.give({ kind: "tag-owner", tag: effect.tag, linked: this.links[effect.tag] ?? null });
        break;
      case "publish": {
        const faults = validateMessage(effect.topic, messageOf(effect.body, now));
        if (faults.length > 0) throw new Error(`${effect.topic}: ${faults.join("; ")}`);
        break;
      }
      default:
    }
  }

  /** Lines the board has said since. */
  #listen(): void {
    for (let text = this.board.out.shift(); text !== undefined; text = this.board.out.shift()) {
      this.give({ kind: "line", text, arrived_at_us: this.now_ms * 1000 });
    }
  }

  open(): this {
    // The rest of a line nobody saw the beginning of.
    this.board.out.unshift("23*9F");
    this.give({ kind: "opened" });
    return this;
  }

  /** Time passes for both, and the host ticks; nothing is read. */
  wait(s: number): this {
    for (let left_s = s; left_s > 1e-9; ) {
      const step_s = Math.min(left_s, TICK_MS / 1000);
      this.pass_us(Math.round(step_s * 1e6));
      left_s -= step_s;
    }
    return this;
  }

  pass_us(us: number): void {
    this.at_s += us / 1e6;
    this.board.pass(us);
    this.now_ms += (us / 1000) * (this.options.host_speed ?? 1);
    for (; this.now_ms - this.#ticked_ms >= TICK_MS; this.#ticked_ms += TICK_MS) this.give({ kind: "tick" });
  }

  /** Readings at the bench's rate for so long. `force` gets s since the call. */
  pull(
    lasts_s: number,
    force: number | ((s: number) => number),
    action: MuscleAction | null | ((s: number) => MuscleAction | null) = null,
  ): this {
    const count = Math.round(lasts_s * this.rate_Hz);
    for (let index = 1; index <= count; index++) {
      const s = index / this.rate_Hz;
      const force_N = typeof force === "number" ? force : force(s);
      this.read(this.countsOf(force_N), typeof action === "function" ? action(s) : action);
    }
    return this;
  }

  /** One conversion, a period after the one before. */
  read(counts: number, action: MuscleAction | null = null): this {
    this.#owed_us += 1e6 / this.rate_Hz;
    const step_us = Math.round(this.#owed_us);
    this.#owed_us -= step_us;
    this.pass_us(step_us);
    if (this.station.configuration.dialect === "bare") return this.hear(String(counts));
    this.board.read(counts, action);
    this.#listen();
    return this;
  }

  /** A line from whatever is at the other end. */
  hear(text: string): this {
    this.give({ kind: "line", text, arrived_at_us: this.now_ms * 1000 });
    return this;
  }

  countsOf(force_N: number): number {
    this.#noise = (Math.imul(this.#noise, 48_271) >>> 0) % 2_147_483_647;
    const noise_counts = (this.options.noise_counts ?? 6) * (this.#noise / 1_073_741_823.5 - 1);
    const { counts_per_N, zero_counts } = this.options.record ?? record();
    return Math.round(zero_counts + force_N * counts_per_N + noise_counts);
  }

  /** Nobody there for three seconds: the rate is known, the sensor is still. */
  settle(): this {
    return this.pull(3.2, 0);
  }

  press(key: number): this {
    this.board.key(key);
    this.#listen();
    return this;
  }

  /** Holds a tag to the reader. */
  present(tag: string): this {
    this.board.say({ kind: "tag", tag });
    this.#listen();
    return this;
  }

  /** Whatever the board was told to say. */
  listen(): this {
    this.#listen();
    return this;
  }

  /** Asks; null: not answered yet. */
  ask<V extends StationVerb>(
    verb: V,
    args: Partial<ArgsOf<V>> = {},
    door: AskedThrough = "socket",
    by: string | null = null,
  ): Outcome | null {
    this.#asked += 1;
    const request_id = `r-${this.#asked}`;
    const request = { verb, args: { station: this.station.configuration.id, ...args } } as never;
    const ask = { request_id, request, by, door };
    if (verb === "begin") {
      const history = this.historyOf?.((request as { args: BeginArgs }).args) ?? this.history;
      this.give({ kind: "begin", ask, history, set_id: this.nextSetId() });
    } else if (verb === "calibration-accept") {
      this.give({
        kind: "accept",
        ask,
        calibration_id: `aaaaaaaa-0000-4000-8000-${this.#asked.toString().padStart(12, "0")}`,
      });
    } else this.give({ kind: "ask", ask });
    return this.answer(this.#asked);
  }

  get asked(): number {
    return this.#asked;
  }

  /** Of the request so numbered; the newest. null: not answered yet. */
  answer(number = this.#asked): Outcome | null {
    return this.#answers.get(`r-${number}`) ?? null;
  }

  nextSetId(): string {
    this.#sets += 1;
    return `01930000-0000-7000-8000-${this.#sets.toString(16).padStart(12, "0")}`;
  }

  begin(args: Partial<ArgsOf<"begin">> = {}): this {
    const outcome = this.ask("begin", { trainee: "otter-14", ...args });
    if (outcome?.ok !== true) throw new Error(`the begin was refused: ${JSON.stringify(outcome)}`);
    return this;
  }

  /** All bodies published under a topic so far, with their moments. */
  published(topic: StationTopic): { readonly at_s: number; readonly body: Body }[] {
    return this.recorded.flatMap(({ at_s, effect }) =>
      effect.do === "publish" && effect.topic === topic ? [{ at_s, body: effect.body }] : [],
    );
  }

  did<D extends StationEffect["do"]>(what: D): Extract<StationEffect, { do: D }>[] {
    return this.recorded.flatMap(({ effect }) =>
      effect.do === what ? [effect as Extract<StationEffect, { do: D }>] : [],
    );
  }

  /** The newest body published under a topic. */
  last(topic: StationTopic): Body {
    const body = this.published(topic).at(-1)?.body;
    if (body === undefined) throw new Error(`no ${topic} was published`);
    return body;
  }

  /** The sets that were to be kept, as messages; each is valid. */
  get kept(): { readonly message: SetMessage; readonly log: InputLog }[] {
    return this.did("keep").map(({ path, result, log }) => {
      const message = { ...setMessageOf(path, result, KEPT), set_seq: 1 };
      const faults = validateMessage("set", JSON.stringify(message));
      if (faults.length > 0) throw new Error(`set: ${faults.join("; ")}`);
      return { message, log };
    });
  }

  /** The only set kept so far. */
  get set(): SetMessage {
    const [only, ...more] = this.kept;
    if (only === undefined || more.length > 0) throw new Error(`${this.kept.length} sets are kept, not one`);
    return only.message;
  }
}

export function messageOf(body: Body, now: Now): Body {
  const { recorder, boot } = KEPT;
  const at = new Date(now.wall_ms).toISOString();
  return { schema_version: 1, at, clock_synced: now.clock_synced, recorder, boot, simulated: false, ...body };
}

/** On the line, calibrated, still, ready for a set. */
export const readyBench = (options: BenchOptions = {}): Bench => new Bench(options).open().settle();

/** Rises within 0.3 s to `best_N`, holds it for `for_s`, then falls by `fall_N_s`. */
export const holdCurve =
  (best_N: number, for_s: number, fall_N_s: number) =>
  (s: number): number =>
    Math.max(0, Math.min((best_N * s) / 0.3, best_N, best_N - (s - for_s) * fall_N_s));

/** Repetitions with a level top: one every `every_s`, each `lasts_s` long, the nth as strong as `peaks_N` says. */
export const repetitions =
  (every_s: number, lasts_s: number, ...peaks_N: number[]) =>
  (s: number): number => {
    const index = Math.floor(s / every_s);
    const edge = Math.min(s % every_s, lasts_s - (s % every_s)) / 0.1;
    return edge <= 0 ? 0 : (peaks_N[Math.min(index, peaks_N.length - 1)] ?? 0) * Math.min(1, edge);
  };
