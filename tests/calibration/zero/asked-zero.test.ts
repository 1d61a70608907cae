import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { awaitsConfirming } from "../../../calibration/zero/zero.ts";
import { FACTS, ZeroBench } from "./zero-bench.ts";

/** A bench that has been idle long enough to be asked. */
const ready = (): ZeroBench => new ZeroBench().read(0, 2);

describe("an asked zero", () => {
  it("takes the mean of one still second and is saved at once", () => {
    const bench = ready().ask("r").read(8, 1);
    expect(bench.answer("r")).toBe(undefined);
    bench.read(8, 0.1);
    expect(bench.answer("r")).toEqual({ ok: true, result: { zero_shift_N: 8, zero_counts: 92_123 } });
    expect(bench.saves()).toEqual([
      { calibration_id: FACTS.calibration_id, shift_counts: 8000, asked_shift_counts: 8000 },
    ]);
    expect(bench.shown_N(8)).toBe(0);
  });

  it("rounds its newtons once, on the way out, and its counts not at all", () => {
    const bench = ready().ask("r").read(1.2345, 2);
    expect(bench.answer("r")).toEqual({ ok: true, result: { zero_shift_N: 1.23, zero_counts: 84_123 + 1234.5 } });
  });

  it("waits for stillness, three seconds long, then says how much moved", () => {
    const waited = ready().ask("r").read(5, 2.8, { still: false }).read(5, 1.2);
    expect(waited.answer("r")?.ok).toBe(true);
    const patient = ready().ask("r").read(5, 2.9, { still: false });
    expect(patient.answer("r")).toBe(undefined);
    expect(patient.read(5, 0.1, { still: false }).error("r")).toContain("not-still");
    const moving = ready()
      .ask("r")
      .read((s) => 10 * Math.sin(5 * s), 3.1, { still: false, rate_Hz: 80 });
    expect(moving.error("r")).toBe("not-still: The force moved by 20 N and was not still for a second.");
    expect(moving.shift_N).toBe(0);
  });

  it("begins its second anew after a jolt or a gap", () => {
    const jolted = ready().ask("r").read(5, 0.9).read(5, 0.1, { still: false }).read(5, 0.9);
    expect(jolted.answer("r")).toBe(undefined);
    expect(jolted.read(5, 0.2).answer("r")?.ok).toBe(true);
    const gap = ready().ask("r").read(5, 0.9);
    gap.at_us += 200_001;
    expect(gap.read(5, 0.9).answer("r")).toBe(undefined);
    const bridged = ready().ask("r").read(5, 0.9);
    bridged.at_us += 200_000;
    expect(bridged.read(5, 0.1).answer("r")?.ok).toBe(true);
  });

  it("stays within 4 % of capacity of the calibrated zero: at, just above, and below nothing", () => {
    const asked = (force_N: number): ZeroBench =>
      ready().ask("r").read(force_N, 1.2).ask("confirmed", true).read(force_N, 1.2);
    expect(asked(200).answer("confirmed")?.ok).toBe(true);
    expect(asked(200.1).error("confirmed")).toBe(
      "out-of-range: The zero would stand 200 N from the calibrated one; at most 200 N would do.",
    );
    expect(asked(-200.1).error("r")).toContain("out-of-range");
    expect(asked(-200).answer("confirmed")?.ok).toBe(true);
  });

  it("that moves more than max(0.5 % of capacity, 10 N) needs confirming: at and just above both", () => {
    expect(ready().ask("r").read(25, 1.2).answer("r")?.ok).toBe(true);
    const above = ready().ask("r").read(25.1, 1.2);
    expect(above.error("r")).toBe("not-permitted: The zero would move by 25.1 N, more than 25 N: it needs confirming.");
    expect(above.shift_N).toBe(0);
    const small = { ...FACTS, capacity_N: 1000 };
    expect(new ZeroBench(small).read(0, 2).ask("r").read(10, 1.2).answer("r")?.ok).toBe(true);
    expect(new ZeroBench(small).read(0, 2).ask("r").read(10.1, 1.2).error("r")).toContain("more than 10 N");
    expect(ready().ask("r").read(-25.1, 1.2).error("r")).toContain("move by -25.1 N");
  });

  it("is confirmed within five seconds, for the amount that was offered", () => {
    const offered = (): ZeroBench => ready().ask("r").read(50, 1.1);
    expect(awaitsConfirming(ready().state)).toBe(false);
    const late = (wait_s: number): ZeroBench => offered().read(50, wait_s).ask("c", true);
    expect(awaitsConfirming(offered().state)).toBe(true);
    expect(late(5).read(50, 1.2).answer("c")?.ok).toBe(true);
    expect(awaitsConfirming(offered().read(50, 5.1).state)).toBe(false);
    expect(late(5.1).read(50, 1.2).error("c")).toContain("needs confirming");
    expect(offered().ask("c", false).read(50, 1.2).error("c")).toContain("needs confirming");
    expect(offered().ask("c", true).read(75, 1.2).answer("c")?.ok).toBe(true);
    expect(offered().ask("c", true).read(75.1, 1.2).error("c")).toContain("needs confirming");
  });

  it("with confirm from the start still has to be offered first", () => {
    expect(ready().ask("r", true).read(50, 1.2).error("r")).toContain("needs confirming");
  });

  it("is refused in use and for ten seconds after, without readings, and twice at once", () => {
    const used = new ZeroBench().read(0, 1, { idle: false });
    expect(used.ask("during").error("during")).toContain("busy: The machine is in use");
    expect(used.read(0, 9.9).ask("soon").error("soon")).toContain("busy");
    expect(used.read(0, 0.1).ask("later").read(0, 1.2).answer("later")?.ok).toBe(true);
    expect(new ZeroBench().ask("r").error("r")).toContain("sensor-fault: No readings");
    expect(ready().ask("first").ask("second").error("second")).toBe("busy: A zero is being taken.");
  });

  it("ends with a set that begins, or with the readings", () => {
    expect(ready().ask("r").read(5, 0.5).read(5, 0.1, { idle: false }).error("r")).toContain("busy: A set was begun");
    const cut = ready().ask("r").read(5, 0.5).give({ kind: "interrupted", detail: "The sensor fell silent." });
    expect(cut.error("r")).toBe("sensor-fault: The sensor fell silent.");
    expect(cut.shift_N).toBe(0);
  });

  it("clears the alarm of a zero that had drifted away", () => {
    const bench = new ZeroBench().read((s) => Math.min(0.02 * s, 102), 6000);
    expect(bench.alarms()).toEqual(["zero-out-of-range on"]);
    expect(bench.ask("r").read(102, 1.2).answer("r")?.ok).toBe(true);
    expect(bench.alarms()).toEqual(["zero-out-of-range on", "zero-out-of-range off"]);
    expect(bench.saves().at(-1)).toMatchObject({ shift_counts: 102_000, asked_shift_counts: 102_000 });
  });
});

describe("a hand on it", () => {
  /** Zeroed with a hand that pushes 20 N. */
  const handed = (): ZeroBench => ready().ask("r").read(20, 1.1);

  it("taken off within half a minute brings the former zero back and says so", () => {
    const bench = handed();
    expect(bench.shift_N).toBe(20);
    bench.read(0, 1);
    expect(bench.alarms()).toEqual([]);
    bench.read(0, 0.1);
    expect(bench.alarms()).toEqual(["zero-suspect on"]);
    expect(bench.shift_N).toBe(0);
    expect(bench.saves().at(-1)).toMatchObject({ shift_counts: 0, asked_shift_counts: 0 });
    expect(bench.read(0, 5).alarms()).toEqual(["zero-suspect on"]);
  });

  it("is told by the force standing below minus half the shift: at the half it is not", () => {
    expect(handed().read(10, 5).alarms()).toEqual([]);
    expect(handed().read(9.99, 5).alarms()).toEqual(["zero-suspect on"]);
  });

  it("must stand below for a whole second", () => {
    expect(handed().read(0, 0.9).read(20, 0.5).read(0, 0.9).read(20, 1).alarms()).toEqual([]);
  });

  it("is no longer looked for after half a minute", () => {
    expect(handed().read(20, 29.9).read(0, 2).alarms()).toEqual(["zero-suspect on"]);
    expect(handed().read(20, 30).read(0, 20).alarms()).toEqual([]);
  });

  it("is not suspected behind a small shift, or one the other way", () => {
    expect(ready().ask("r").read(4, 1.1).read(1, 5).alarms()).toEqual([]);
    expect(ready().ask("r").read(4.1, 1.1).read(1, 5).alarms()).toEqual(["zero-suspect on"]);
    expect(ready().ask("r").read(-20, 1.1).read(0, 5).read(300, 5).alarms()).toEqual([]);
  });

  it("is small by the cell: on one of 1000 N, 4 d are 0.8 N", () => {
    const asked = (force_N: number): ZeroBench =>
      new ZeroBench({ ...FACTS, capacity_N: 1000 }).read(0, 2).ask("r").read(force_N, 1.1).read(0, 5);
    expect(asked(0.8).alarms()).toEqual([]);
    expect(asked(0.81).alarms()).toEqual(["zero-suspect on"]);
  });

  it("noticed in use raises the alarm at once, saves the former zero, and moves it only when idle again", () => {
    const bench = handed().read(0, 2, { idle: false });
    expect(bench.alarms()).toEqual(["zero-suspect on"]);
    expect(bench.shift_N).toBe(20);
    expect(bench.saves().at(-1)).toMatchObject({ shift_counts: 0, asked_shift_counts: 0 });
    bench.give({ kind: "interrupted", detail: "It fell silent." }).read(300, 60, { idle: false });
    expect(bench.shift_N).toBe(20);
    expect(bench.read(0, 0.1).shift_N).toBe(0);
    expect(bench.alarms()).toEqual(["zero-suspect on"]);
  });

  it("is forgotten with the readings when nothing was noticed", () => {
    const bench = handed().give({ kind: "interrupted", detail: "It fell silent." });
    expect(bench.read(0, 5).alarms()).toEqual([]);
  });

  it("ends as an alarm with the next zero that is granted", () => {
    const bench = handed().read(0, 2).ask("again").read(0, 1.2);
    expect(bench.alarms()).toEqual(["zero-suspect on", "zero-suspect off"]);
  });
});

it("whatever is asked, the zero stays within 4 % of the calibrated one plus 2 % of tracking", () => {
  const step = fc.oneof(
    fc.record({ do: fc.constant("read"), force_N: fc.double({ min: -400, max: 400, noNaN: true }) }),
    fc.record({ do: fc.constant("ask"), confirm: fc.boolean() }),
  );
  fc.assert(
    fc.property(fc.array(step, { maxLength: 40 }), (steps) => {
      const bench = ready();
      for (const [i, given] of steps.entries()) {
        if ("force_N" in given) bench.read(given.force_N, 2);
        else bench.ask(`r-${i}`, given.confirm).read(bench.shift_N + 30, 2);
        expect(Math.abs(bench.shift_N)).toBeLessThanOrEqual(300);
      }
    }),
  );
});
