/** A kept set is its input log: whatever happened, the log alone must say the same again. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { STYLES } from "../../../protocol/vocabulary.ts";
import type { CheckpointPart, InputLog } from "../../../recorder/ports.ts";
import { recover } from "../../../recorder/run/recover.ts";
import { curveOf, replaySet } from "../../../recorder/run/replay.ts";
import { checkpointKept, nextCheckpoint } from "../../../recorder/station/checkpoint.ts";
import { decodeInputLog, encodeInputLog, joinInputLogs } from "../../../recorder/store/input-log.ts";
import { type Bench, COUNTS_PER_N, holdCurve, KEPT, NO_HISTORY, readyBench, ZERO_COUNTS } from "./bench.ts";
import { drawnOf, runDrawn } from "./random-set.ts";

const RUNS = { seed: 20_261_124, numRuns: 7 };
const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;

/** Through the bytes it is kept as. */
function stored(log: InputLog): InputLog {
  const decoded = decodeInputLog(encodeInputLog(log));
  if (!decoded.ok) throw new Error(decoded.message);
  return decoded.log;
}

describe.each(STYLES)("random sets in the style %s", (style) => {
  it("replay from their stored log to the identical message", () => {
    let sets = 0;
    fc.assert(
      fc.property(drawnOf(style), (drawn) => {
        for (const { message, log } of runDrawn(drawn).kept) {
          sets += 1;
          expect(replaySet(message, stored(log), {})).toEqual(message);
        }
      }),
      RUNS,
    );
    expect(sets).toBeGreaterThan(2);
  });

  it("checkpoint parts, some of them sent twice, join to a log that says the same", () => {
    let compared = 0;
    fc.assert(
      fc.property(drawnOf(style), fc.integer({ min: 40, max: 400 }), (drawn, every) => {
        // As the store keeps them: one under each number, the newest.
        const parts = new Map<number, CheckpointPart>();
        let readings = 0;
        let last: InputLog | null = null;
        const bench = runDrawn(drawn, {
          reading(now) {
            readings += 1;
            if (readings % every !== 0) return;
            const checkpoint = nextCheckpoint(now.station);
            if (checkpoint === null) return;
            parts.set(checkpoint.part.part, { ...checkpoint.part, log: stored(checkpoint.part.log) });
            // Every third is not kept: it comes again, grown.
            if (readings % 3 !== 0) now.station = checkpointKept(now.station, checkpoint);
            last = joinInputLogs([...parts.values()].map(({ log }) => log));
          },
        });
        const [kept] = bench.kept;
        if (kept === undefined || last === null) return;
        compared += 1;
        const joined: InputLog = last;
        const whole = stored(kept.log);
        const length = joined.at_us.length;
        expect(joined.arm).toEqual(whole.arm);
        expect(Array.from(joined.at_us)).toEqual(Array.from(whole.at_us).slice(0, length));
        expect(Array.from(joined.counts)).toEqual(Array.from(whole.counts).slice(0, length));
        expect(joined.events).toEqual(whole.events.slice(0, joined.events.length));
        expect(whole.events.slice(joined.events.length).every(({ before }) => before >= length)).toBe(true);
      }),
      RUNS,
    );
    expect(compared).toBeGreaterThan(1);
  });
});

describe("recovering", () => {
  const unfinished = (bench: Bench) => {
    const checkpoint = nextCheckpoint(bench.station);
    if (checkpoint === null) throw new Error("nothing runs");
    const { set_id, station, log } = checkpoint.part;
    return { set_id, station, log: stored(log) };
  };

  it("a set that was running is kept as interrupted, as far as it got", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(6, holdCurve(1000, 10, 0));
    const found = recover(unfinished(bench), KEPT);
    if (found.is !== "set") throw new Error(found.why);
    const { message, log } = found.set;
    expect(message).toMatchObject({ stop_reason: "interrupted", cut_short: true, reached_threshold: false });
    expect(message.duration_s).toBeCloseTo(6, 1);
    expect(message.best_force_N).toBeCloseTo(1000, 0);
    // It is a set like any other: what is kept replays to itself, and equals what a stop would have made of it.
    expect(replaySet(message, stored(log), {})).toEqual(message);
    bench.give({ kind: "stopping" });
    expect({ ...bench.set, set_seq: 0 }).toEqual(message);
  });

  it("its setup notes come back as the text by which it is comparable", () => {
    const bench = readyBench();
    const args = { station: bench.station.configuration.id, trainee: "otter-14", ...HOLD };
    bench.give({
      kind: "begin",
      ask: { request_id: "planned", request: { verb: "begin", args }, by: null, door: "socket" },
      history: NO_HISTORY,
      set_id: bench.nextSetId(),
      setup: { seat: "4", pin: "7" },
    });
    bench.pull(0.5, 0).pull(6, holdCurve(1000, 10, 0));
    expect(recover(unfinished(bench), KEPT)).toMatchObject({ is: "set", set: { setup: '{"pin":"7","seat":"4"}' } });
  });

  it("without a plan there is no such text", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(6, holdCurve(1000, 10, 0));
    expect(recover(unfinished(bench), KEPT)).toMatchObject({ is: "set", set: { setup: "" } });
  });

  it("a set without a counted effort is nothing", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(1.2, holdCurve(1000, 10, 0));
    expect(recover(unfinished(bench), KEPT)).toMatchObject({ is: "nothing", why: expect.stringMatching(/no effort/) });
  });

  it("a false start that is armed again is nothing either", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(1, holdCurve(900, 0.6, 9000));
    const before = unfinished(bench);
    bench.pull(1.5, 0);
    expect(bench.phase).toBe("armed");
    expect(nextCheckpoint(bench.station)).toBeNull();
    expect(recover(before, KEPT).is).toBe("nothing");
  });

  it("a log without its beginning is nothing, one of another version is not ours to judge", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(6, holdCurve(1000, 10, 0));
    const { log, ...rest } = unfinished(bench);
    expect(recover({ ...rest, log: { ...log, arm: null } }, KEPT)).toMatchObject({ is: "nothing" });
    for (const arm of [{}, { ...(log.arm as object), arm_version: 2 }]) {
      expect(recover({ ...rest, log: { ...log, arm } }, KEPT)).toMatchObject({ is: "unreadable" });
    }
  });
});

it("a muscle action is written down where it changes, not with every reading", () => {
  const bench = readyBench().begin({ style: "continuous" }).pull(0.5, 0);
  const strokes = (s: number): "concentric" | "eccentric" => (s % 4 < 2 ? "concentric" : "eccentric");
  bench.pull(11.9, (s) => 800 - 700 * Math.abs(1 - (s % 2)), strokes);
  bench.ask("end");
  const [kept] = bench.kept;
  expect(kept?.log.events.filter(({ event }) => (event as { kind: string }).kind === "action")).toHaveLength(6);
  expect(kept?.message.decided_by).toBe("concentric");
});

describe("from the stored counts and the record alone", () => {
  const run = (): Bench =>
    readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(9, holdCurve(1000, 3, 150));

  it("the stored numbers come out again, by arithmetic of this test's own", () => {
    const { message, log } = run().kept[0] ?? {};
    if (message === undefined || log === undefined) throw new Error("nothing was kept");
    const { at_us, counts } = stored(log);
    const arm = log.arm as {
      zero_counts: number;
      before_counts: number[];
      at_us: number;
      calibration: { counts_per_N: number };
    };
    const raw = [...arm.before_counts, ...Array.from(counts)];
    const force_N = Array.from(counts, (_, index) => {
      const three = raw.slice(index, index + 3).sort((a, b) => a - b);
      return ((three[1] ?? 0) - arm.zero_counts) / arm.calibration.counts_per_N;
    });
    // First crossing of the onset of 50 N, on the straight line between readings.
    const up = force_N.findIndex((force, index) => index > 0 && force >= 50 && (force_N[index - 1] ?? 0) < 50);
    const crossing = (at: number): number => {
      const [before, after] = [force_N[at - 1] ?? 0, force_N[at] ?? 0];
      return (at_us[at - 1] ?? 0) + ((50 - before) / (after - before)) * ((at_us[at] ?? 0) - (at_us[at - 1] ?? 0));
    };
    const onset_us = crossing(up);
    const end = at_us.length - 1;
    expect(message.duration_s).toBeCloseTo(((at_us[end] ?? 0) - onset_us) / 1e6, 3);
    let impulse_N_s = ((50 + (force_N[up] ?? 0)) / 2) * (((at_us[up] ?? 0) - onset_us) / 1e6);
    for (let index = up + 1; index <= end; index++) {
      const step_s = ((at_us[index] ?? 0) - (at_us[index - 1] ?? 0)) / 1e6;
      impulse_N_s += ((force_N[index - 1] ?? 0) + (force_N[index] ?? 0)) * (step_s / 2);
    }
    expect(message.impulse_N_s).toBeCloseTo(impulse_N_s, 1);
    // Mean force is impulse over time; over a hold, time under tension is all of it.
    expect(message.mean_force_N).toBeCloseTo(message.impulse_N_s / message.duration_s, 1);
    expect(message.mean_effort_force_N).toBeCloseTo(message.impulse_N_s / message.time_under_tension_s, 1);
    expect(message.floor_force_N).toBeCloseTo(0.6 * (message.best_force_N ?? 0), 1);
    expect(message.force_loss).toBeCloseTo(1 - (message.final_force_N ?? 0) / (message.best_force_N ?? 1), 3);
  });

  it("another record or another zero would be another set: the log names its own", () => {
    const bench = run();
    const { message, log } = bench.kept[0] ?? {};
    if (message === undefined || log === undefined) throw new Error("nothing was kept");
    expect(log.arm).toMatchObject({ zero_counts: ZERO_COUNTS, calibration: { counts_per_N: COUNTS_PER_N } });
    const arm = { ...(log.arm as object), zero_counts: ZERO_COUNTS - 20 * COUNTS_PER_N };
    expect(replaySet(message, { ...log, arm }, {}).best_force_N).toBeCloseTo((message.best_force_N ?? 0) + 20, 1);
  });

  it("with another threshold it is judged anew, and says when there is no set", () => {
    const { message, log } = run().kept[0] ?? {};
    if (message === undefined || log === undefined) throw new Error("nothing was kept");
    const shallow = replaySet(message, log, { fatigue_threshold: 0.2 });
    expect(shallow).toMatchObject({ fatigue_threshold: 0.2, stop_reason: "hold-below-floor", set_id: message.set_id });
    expect(shallow.duration_s).toBeLessThan(message.duration_s - 1);
    expect(shallow.force_loss).toBeLessThan((message.force_loss ?? 0) - 0.1);
    expect(() => replaySet(message, log, { options: { onset_force_N: 3000 } })).toThrow(/no effort/);
    expect(() => replaySet(message, { ...log, arm: null }, {})).toThrow(/beginning/);
  });

  it("what was said afterwards stays said", () => {
    const { message, log } = run().kept[0] ?? {};
    if (message === undefined || log === undefined) throw new Error("nothing was kept");
    const amended = {
      ...message,
      set_seq: 12,
      revision: 3,
      void: true,
      pain: 2,
      exertion: 7,
      note: "slipped",
      zero_shift_N: 0.4,
    };
    expect(replaySet(amended, log, {})).toEqual(amended);
  });

  it("the curve: force of every reading on the set's own time, null where the amplifier was saturated", async () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(3, holdCurve(1000, 10, 0))
      .read(8_388_607)
      .pull(4, holdCurve(400, 10, 0));
    const { message, log } = bench.kept[0] ?? {};
    if (message === undefined || log === undefined) throw new Error("nothing was kept");
    const { elapsed_s, force_N } = await curveOf(stored(log), message);
    expect(force_N).toHaveLength(log.at_us.length);
    expect(force_N.filter((force) => force === null)).toHaveLength(1);
    const onset = elapsed_s.findIndex((s) => s >= 0);
    expect(force_N[onset]).toBeGreaterThan(50);
    expect(force_N[onset - 2]).toBeLessThan(50);
    expect(elapsed_s[0]).toBeLessThan(-0.4);
    expect(elapsed_s.at(-1)).toBeCloseTo(message.duration_s, 2);
  });

  it("a very long curve is made in slices, and the stations have their turn between them", async () => {
    const { message, log } = readyBench().begin(HOLD).pull(0.5, 0).pull(3, 1000).pull(4, 400).kept[0] ?? {};
    if (message === undefined || log === undefined) throw new Error("nothing was kept");
    const at_us = Float64Array.from({ length: 72_000 }, (_, at) => at * 12_500);
    let turns = 0;
    let over = false;
    const turn = (): void => {
      turns += 1;
      if (!over) setImmediate(turn);
    };
    setImmediate(turn);
    const { force_N } = await curveOf({ ...stored(log), at_us, counts: new Int32Array(72_000) }, message);
    over = true;
    expect(force_N).toHaveLength(72_000);
    expect(turns).toBeGreaterThanOrEqual(30);
  });
});
