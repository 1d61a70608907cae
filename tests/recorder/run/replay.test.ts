/** Other settings for a kept set obey the rules of a begin. */
import { describe, expect, it } from "vitest";
import { replaySet } from "../../../recorder/run/replay.ts";
import { type Bench, holdCurve, readyBench, repetitions } from "../station/bench.ts";

/** The set a bench has run, ended by request. */
const keptOf = (bench: Bench) => {
  bench.ask("end");
  const [kept] = bench.kept;
  if (kept === undefined) throw new Error("no set");
  return kept;
};

const hold = (station = {}, begin = {}) =>
  keptOf(
    readyBench({ station })
      .begin({ style: "hold", ...begin })
      .pull(0.5, 0)
      .pull(6, holdCurve(1000, 10, 0)),
  );

describe("a threshold", () => {
  it("means nothing on a stack, whatever is asked afterwards", () => {
    const { message, log } = hold({ resistance: "stack" });
    expect(message.fatigue_threshold).toBeNull();
    expect(() => replaySet(message, log, { fatigue_threshold: 0.3 })).toThrow(
      /^On a stack of weights the force equals/,
    );
    // Whatever else may change may.
    expect(replaySet(message, log, { options: { grace_s: 2 } })).toMatchObject({
      force_loss: null,
      fatigue_threshold: null,
      options: { grace_s: 2 },
    });
  });

  it("means something on an elastic band in a hold only", () => {
    const { message, log } = hold({ resistance: "elastic" });
    expect(replaySet(message, log, { fatigue_threshold: 0.3 }).fatigue_threshold).toBe(0.3);
    const moving = keptOf(
      readyBench({ station: { resistance: "elastic" } })
        .begin({ style: "continuous" })
        .pull(0.5, 0)
        .pull(8, repetitions(2, 1.2, 800)),
    );
    expect(() => replaySet(moving.message, moving.log, { fatigue_threshold: 0.3 })).toThrow(
      /^On an elastic resistance/,
    );
  });

  it("brings the number of efforts under the floor that goes with it, unless that is given", () => {
    const { message, log } = keptOf(
      readyBench()
        .begin({ style: "continuous", fatigue_threshold: 0.4 })
        .pull(0.5, 0)
        .pull(8, repetitions(2, 1.2, 800)),
    );
    expect(message.options.below_floor_to_stop).toBe(1);
    const stops = (changes: Parameters<typeof replaySet>[2]): number =>
      replaySet(message, log, changes).options.below_floor_to_stop;
    expect(stops({ fatigue_threshold: 0.25 })).toBe(2);
    expect(stops({ fatigue_threshold: 0.26 })).toBe(1);
    expect(stops({ fatigue_threshold: 0.25, options: { below_floor_to_stop: 1 } })).toBe(1);
    expect(stops({ options: { below_floor_to_stop: 3 } })).toBe(3);
    expect(stops({ options: { grace_s: 2 } })).toBe(1);
  });
});

it("a hold has no rest limit, and a ceiling lies above the onset", () => {
  const { message, log } = hold();
  expect(replaySet(message, log, { options: { rest_limit_s: 5 } }).options.rest_limit_s).toBeNull();
  expect(() => replaySet(message, log, { options: { onset_force_N: 60, ceiling_force_N: 60 } })).toThrow(
    /^A ceiling of 60 N lies under the onset of 60 N\.$/,
  );
});

it("a log this version cannot read is said, not judged", () => {
  const { message, log } = hold();
  const event = { kind: "of-tomorrow", at_us: 1 };
  expect(() => replaySet(message, { ...log, events: [{ before: 0, event }] }, {})).toThrow(
    "This set cannot be judged again: its input log holds an event that this version cannot read.",
  );
});
