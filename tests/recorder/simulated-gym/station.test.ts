import { describe, expect, it } from "vitest";
import { decodeDeviceLine } from "../../../protocol/serial-line/decode.ts";
import { encodeHostLine } from "../../../protocol/serial-line/encode.ts";
import type { DeviceLine } from "../../../protocol/serial-line/lines.ts";
import { JOINT_REGIONS } from "../../../recorder/simulated-gym/fatigue.ts";
import { trueCountsPerN, trueZeroCounts } from "../../../recorder/simulated-gym/rig.ts";
import { gymConfiguration, stationsOf } from "../../../recorder/simulated-gym/scenario.ts";
import {
  hear,
  next,
  powerUp,
  present,
  press,
  restart,
  type SimulatedStation,
  type StationState,
  type StationStep,
  sit,
  type Truth,
} from "../../../recorder/simulated-gym/station.ts";
import { trainee } from "../../../recorder/simulated-gym/trainees.ts";

const SEED = 12;
const configuration = gymConfiguration({ store: "x.db", socket: "a.sock", service_socket: "b.sock", port: 0 });
const [PRESS, KNEE] = stationsOf(configuration, SEED) as readonly [SimulatedStation, SimulatedStation];
const HOLDER = trainee("wren-1", 500, JOINT_REGIONS.knee, { style: "hold" });

/** A station with somebody at it, its bytes and its truth so far. */
class Session {
  readonly station: SimulatedStation;
  readonly truth: Truth[] = [];
  state: StationState;
  out: string;

  constructor(station: SimulatedStation, seed = SEED) {
    this.station = station;
    const step = powerUp(station, seed);
    this.state = step.state;
    this.out = step.out;
  }

  take(step: StationStep): void {
    this.state = step.state;
    this.out += step.out;
  }

  run(seconds: number): this {
    const until_us = this.state.at_us + seconds * 1e6;
    while (this.state.due_us <= until_us) {
      const step = next(this.station, this.state, SEED);
      this.take(step);
      this.truth.push(step.truth);
    }
    return this;
  }

  lamp(lamp: 1 | 2, to: "on" | "off"): this {
    this.take(hear(this.station, this.state, `${encodeHostLine({ kind: "lamp", command: 1, lamp, to })}\n`, SEED));
    return this;
  }

  lines(): DeviceLine[] {
    return this.out
      .split("\n")
      .filter((text) => text !== "")
      .map((text) => {
        const line = decodeDeviceLine(text);
        if (line.kind === "rejected") throw new Error(`${line.reject}: ${text}`);
        return line;
      });
  }
}

/** The host says something every 2 s, so that the board goes on trusting it. */
function held(session: Session, seconds: number): void {
  for (let second = 0; second < seconds; second += 2) session.lamp(1, "on").run(2);
}

describe("a simulated station", () => {
  it("speaks lines our decoder accepts, numbered without a gap, at its own rate, in a time that never goes back", () => {
    const session = new Session(PRESS).run(60);
    const lines = session.lines();
    const readings = lines.filter(({ kind }) => kind === "reading");
    expect(lines.map(({ seq }) => seq)).toEqual(lines.map((_, index) => index));
    for (let index = 1; index < lines.length; index++) {
      expect(lines[index]!.t_us).toBeGreaterThanOrEqual(lines[index - 1]!.t_us);
    }
    const rate_Hz = (readings.length - 1) / ((readings.at(-1)!.t_us - readings[0]!.t_us) / 1e6);
    expect(rate_Hz / (80 * (1 + PRESS.rate_error))).toBeCloseTo(1, 4);
  });

  it("gives the same bytes for the same seed and others for another", () => {
    const bytes = (seed: number): string => {
      const session = new Session(PRESS, seed);
      session.state = sit(session.state, HOLDER);
      held(session, 4);
      return session.out;
    };
    expect(bytes(SEED)).toBe(bytes(SEED));
    expect(bytes(SEED)).not.toBe(bytes(SEED + 1));
  });

  it("at 10 a second converts that often, and tires its trainee by the same clock", () => {
    const session = new Session(KNEE);
    session.take(hear(KNEE, session.state, `${encodeHostLine({ kind: "rate", command: 5, rate: 10 })}\n`, SEED));
    session.state = sit(session.state, HOLDER);
    held(session, 30);
    const slow = session.truth.at(-1)!;
    const quick = new Session(KNEE);
    quick.state = sit(quick.state, HOLDER);
    held(quick, 30);
    expect(session.truth.length / quick.truth.length).toBeCloseTo(1 / 8, 2);
    // Steps ten times longer place the start of the ramp up to a tenth of a second off: 0.15 % of strength.
    expect(Math.abs(slow.strength_left! - quick.truth.at(-1)!.strength_left!)).toBeLessThan(0.003);
  });

  it("turns counts and force into each other as its rig says", () => {
    const session = new Session(KNEE);
    session.state = sit(session.state, HOLDER);
    held(session, 10);
    const { gain } = session.state.board;
    for (const { counts, cell_N } of session.truth.slice(-80)) {
      const force_N = (counts - trueZeroCounts(KNEE.rig, gain)) / trueCountsPerN(KNEE.rig, gain);
      // Creep, drift and noise of the rig; a spike would be thousands of newtons.
      expect(Math.abs(force_N - cell_N)).toBeLessThan(0.4);
    }
  });
});

describe("a set, as it really was", () => {
  it("is told with the loss of strength when the stop was called", () => {
    const session = new Session(KNEE);
    session.state = sit(session.state, HOLDER);
    held(session, 20);
    const before = session.truth.at(-1)!;
    session.lamp(2, "on").lamp(1, "off").run(4);
    const set = session.truth.at(-1)!.set!;
    expect(set.trainee).toBe("wren-1");
    expect(set.strength_at_start).toBeCloseTo(1, 3);
    expect(set.called_s).toBeCloseTo(before.at_us / 1e6, 1);
    expect(set.loss_when_called).toBeCloseTo(1 - before.strength_left!, 2);
    // Published parameters of the knee: 20 % are lost after 15.06 s, 30 % after 24.27 s of maximal exertion.
    expect(set.loss_when_called).toBeGreaterThan(0.2);
    expect(set.loss_when_called).toBeLessThan(0.3);
    expect(session.truth.at(-1)!.handle_N).toBeLessThan(10);
  });

  it("starts from what the trainee had recovered since getting up", () => {
    const session = new Session(KNEE);
    session.state = sit(session.state, HOLDER);
    held(session, 20);
    session.lamp(1, "off").run(2);
    const tired = session.truth.at(-1)!.strength_left!;
    session.state = sit(session.state, null);
    session.run(30);
    expect(session.truth.at(-1)!.strength_left).toBeNull();
    expect(session.truth.at(-1)!.handle_N).toBe(0);
    session.state = sit(session.state, HOLDER);
    session.run(1);
    // Rest recovery of the knee: r R = 0.02235 /s, over 30 s away and one seated.
    const expected = 1 - (1 - tired) * Math.exp(-15 * 0.00149 * 31);
    expect(Math.abs(session.truth.at(-1)!.strength_left! - expected)).toBeLessThan(0.002);
  });
});

describe("what people and faults do to a station", () => {
  it("a key goes down at once and up a moment later; a tag is told", () => {
    const session = new Session(KNEE).run(1);
    session.take(press(KNEE, session.state, 1, SEED));
    session.take(present(KNEE, session.state, "band-1", SEED));
    session.run(1);
    const lines = session.lines();
    const keys = lines.filter((line) => line.kind === "key");
    expect(keys.map(({ key, pressed }) => [key, pressed])).toEqual([
      [1, true],
      [1, false],
    ]);
    expect(keys[1]!.t_us - keys[0]!.t_us).toBeGreaterThanOrEqual(120_000);
    expect(keys[1]!.t_us - keys[0]!.t_us).toBeLessThan(150_000);
    expect(lines.filter((line) => line.kind === "tag").map(({ tag }) => tag)).toEqual(["band-1"]);
    expect(lines.map(({ seq }) => seq)).toEqual(lines.map((_, index) => index));
  });

  it("a silent amplifier is said once a second and never as a reading; a stuck one saturates", () => {
    const session = new Session(KNEE).run(1);
    const before = session.lines().length;
    session.state = { ...session.state, amplifier: "silent" };
    session.run(3);
    expect(session.lines().slice(before)).toMatchObject(
      new Array(3).fill({ kind: "fault", fault: "amplifier-silent" }),
    );
    session.state = { ...session.state, amplifier: "stuck-high" };
    session.run(0.05);
    expect(session.lines().slice(before + 3, before + 6)).toMatchObject([
      { kind: "reading", counts: 8_388_607 },
      { kind: "fault", fault: "amplifier-saturated" },
      { kind: "reading", counts: 8_388_607 },
    ]);
  });

  it("a restart begins a new boot and puts the lamps out, which ends the trainee's set", () => {
    const session = new Session(KNEE);
    session.state = sit(session.state, HOLDER);
    held(session, 6);
    expect(session.truth.at(-1)!.handle_N).toBeGreaterThan(300);
    session.take(restart(KNEE, session.state, "watchdog", SEED));
    session.run(3);
    expect(session.truth.at(-1)!.handle_N).toBeLessThan(10);
    const hellos = session.lines().filter((line) => line.kind === "hello");
    expect(new Set(hellos.map(({ boot }) => boot)).size).toBe(2);
  });
});
