import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { NO_PROCEDURE } from "../../../calibration/procedure/procedure.ts";
import type { ProcedureFacts, ProcedureInput } from "../../../calibration/procedure/procedure-state.ts";
import { calibrationRecordSchema } from "../../../calibration/record.ts";
import { warmUpLeft_s } from "../../../calibration/warm-up.ts";
import {
  ACCEPT,
  BEGIN,
  Bench,
  COUNTS_PER_N,
  check,
  FACTS,
  IN_FORCE,
  LOAD_N,
  load,
  ZERO,
  ZERO_COUNTS,
} from "./procedure-bench.ts";

const whole = (counts_per_N = COUNTS_PER_N): Bench =>
  new Bench()
    .give(BEGIN)
    .give(ZERO)
    .read(0, 24, counts_per_N)
    .give(load(100))
    .read(LOAD_N, 24, counts_per_N)
    .give(check(50))
    .read(LOAD_N / 2, 24, counts_per_N)
    .give(ACCEPT);

describe("a whole calibration", () => {
  it("begins, takes two points, and leaves one record that its schema takes", () => {
    const bench = whole();
    expect(bench.answer("r-begin")).toEqual({
      ok: true,
      result: {
        station: "leg-press",
        since: "2026-11-24T09:00:00.000Z",
        dwell_s: 20,
        window_s: 3,
        in_force: null,
        working_force_N: 2500,
        cell_capacity_N: 5000,
        smallest_load_N: 100,
        largest_load_N: 4000,
        gravity_m_s2: expect.closeTo(9.81247, 5),
      },
    });
    const unloaded = bench.answer("r-zero");
    expect(unloaded?.ok && Object.keys(unloaded.result as object)).toEqual(["mean_counts", "standard_error_counts"]);
    const loaded = bench.answer("r-load");
    expect(loaded?.ok && loaded.result).toMatchObject({ warnings: [] });
    const records = bench.effects.flatMap((effect) => (effect.do === "accepted" ? [effect.record] : []));
    expect(records).toHaveLength(1);
    const record = calibrationRecordSchema.parse(records[0]);
    expect(bench.answer("r-accept")).toEqual({ ok: true, result: record });
    expect(record).toMatchObject({
      calibration_id: "0192f0c1-2f5e-7a31-9c55-0242ac120002",
      station: "leg-press",
      at: "2026-11-24T09:05:00.000Z",
      performed_by: "technician-1",
      board: "press-left",
      amplifier: "hx711",
      gain: 128,
      cell: "4711",
      friction_N: null,
      due: "2027-11-24T00:00:00.000Z",
      note: "two plates",
      working_force_N: 2500,
      cell_capacity_N: 5000,
    });
    expect(record.counts_per_N / COUNTS_PER_N).toBeCloseTo(1, 4);
    expect(Math.abs(record.zero_counts - ZERO_COUNTS)).toBeLessThan(15);
    expect(record.points.map((point) => point.mass_kg)).toEqual([null, 100]);
    expect(record.points[1]?.force_N).toBeCloseTo(LOAD_N, 2);
    expect(record.points[1]?.applied).toEqual({ at: "handle", lever_angle_deg: null, relative_tolerance: 0.002 });
    expect(record.points[1]?.loading).toBe("increasing");
    expect(record.points[0]).not.toHaveProperty("applied");
    expect(record.checks).toMatchObject([{ when: "as-left", mass_kg: 50, loading: "increasing", series: 1 }]);
    expect(record.checks?.[0]?.relative_error).toBeCloseTo(0, 3);
    expect(record.budget.filter(({ constant }) => constant).map(({ source }) => source)).toEqual(["non-linearity"]);
    expect(record.expanded_uncertainty_N).toBeGreaterThan(0);
    expect(record.expanded_uncertainty_N).toBeLessThan(0.02 * 2500);
    expect(bench.give({ kind: "stored", ok: true }).state).toBe(NO_PROCEDURE);
  });

  it("stays open until its record is kept, and takes nothing else meanwhile", () => {
    const bench = whole();
    expect(bench.give({ ...BEGIN, request: "r-second" }).error("r-second")).toMatch(/busy: .*being calibrated/);
    const asked = [
      { kind: "zero", request: "z" },
      { kind: "load", request: "l", mass_kg: 100, relative_tolerance: 0.002 },
      { ...ACCEPT, request: "a" },
      { kind: "abandon", request: "x" },
    ] as const;
    for (const input of asked) {
      expect(bench.give(input).error(input.request)).toBe("busy: The accepted record is being kept.");
    }
    expect(bench.effects.filter((effect) => effect.do === "accepted")).toHaveLength(1);
  });

  it("whose record could not be kept has its points still, and is accepted again", () => {
    const bench = whole().give({ kind: "stored", ok: false });
    bench.give({ ...ACCEPT, request: "again" });
    const [first, second] = bench.effects.flatMap((effect) => (effect.do === "accepted" ? [effect.record] : []));
    expect(second).toEqual(first);
    expect(bench.give({ kind: "stored", ok: true }).state).toBe(NO_PROCEDURE);
  });

  it("that is open and not accepted is not closed by a record of another's", () => {
    const bench = new Bench().give(BEGIN).give(ZERO).read(0, 24);
    const { state } = bench;
    expect(bench.give({ kind: "stored", ok: true }).state).toBe(state);
  });

  it("through reversed wires gives a negative scale, the same size, and says so", () => {
    const bench = whole(-COUNTS_PER_N);
    const loaded = bench.answer("r-load");
    expect(loaded?.ok && loaded.result).toMatchObject({
      warnings: ["The wires are reversed; the calibration takes care of it."],
    });
    const [record] = bench.effects.flatMap((effect) => (effect.do === "accepted" ? [effect.record] : []));
    expect(record!.counts_per_N / -COUNTS_PER_N).toBeCloseTo(1, 4);
  });

  it.each([8, 10, 94])("works at %d readings a second", (rate_Hz) => {
    const bench = new Bench()
      .give(BEGIN)
      .give(ZERO)
      .read(0, 24, COUNTS_PER_N, rate_Hz)
      .give(load(100))
      .read(LOAD_N, 24, COUNTS_PER_N, rate_Hz)
      .give(check(50))
      .read(LOAD_N / 2, 24, COUNTS_PER_N, rate_Hz)
      .give(ACCEPT);
    expect(bench.answer("r-accept")?.ok).toBe(true);
  });

  it("takes other windows where a station says so", () => {
    const facts = { ...FACTS, dwell_us: 1_000_000, window_us: 1_000_000 };
    const bench = new Bench()
      .give({ ...BEGIN, facts })
      .give(ZERO)
      .read(0, 1.9);
    expect(bench.answer("r-zero")).toBe(undefined);
    expect(bench.read(0, 0.2).answer("r-zero")?.ok).toBe(true);
  });

  it("nothing but an accept makes a record", () => {
    const inputs = fc.array(
      fc.constantFrom<ProcedureInput>(
        BEGIN,
        ZERO,
        load(100),
        { kind: "abandon", request: "r" },
        { kind: "fault", detail: "It fell silent." },
        { kind: "epoch", board: null, amplifier: null, gain: null, powered_up_at_us: null },
        { kind: "reading", at_us: 5, counts: 5 },
        { kind: "reading", at_us: 100_000_005, counts: 50_000 },
      ),
      { maxLength: 40 },
    );
    fc.assert(
      fc.property(inputs, (given) => {
        const bench = new Bench();
        for (const input of given) bench.give(input);
        expect(bench.effects.some((effect) => effect.do === "accepted")).toBe(false);
      }),
    );
  });

  it("answers every request exactly once, whatever comes between", () => {
    const kinds = fc.array(fc.constantFrom("begin", "zero", "load", "accept", "abandon", "read", "fault", "epoch"), {
      maxLength: 30,
    });
    const facts = { ...FACTS, dwell_us: 100_000, window_us: 300_000 };
    fc.assert(
      fc.property(kinds, (given) => {
        const bench = new Bench();
        const requests: string[] = [];
        for (const [i, kind] of given.entries()) {
          const request = `${kind}-${i}`;
          if (kind === "read") bench.read(i % 2 === 0 ? 0 : LOAD_N, 0.3);
          else if (kind === "fault") bench.give({ kind, detail: "It fell silent." });
          else if (kind === "epoch") {
            bench.give({ kind, board: null, amplifier: null, gain: null, powered_up_at_us: null });
          } else {
            requests.push(request);
            if (kind === "begin") bench.give({ ...BEGIN, request, facts });
            else if (kind === "zero") bench.give({ kind, request });
            else if (kind === "load") bench.give(load(100, request));
            else if (kind === "accept") bench.give({ ...ACCEPT, request });
            else bench.give({ kind: "abandon", request });
          }
        }
        bench.give({ kind: "abandon", request: "last" });
        const answered = bench.effects.flatMap((effect) => (effect.do === "answer" ? [effect.request] : []));
        expect(answered.sort()).toEqual([...requests, "last"].sort());
      }),
    );
  });
});

describe("out of turn", () => {
  it("nothing works without a begin", () => {
    for (const input of [ZERO, load(100), ACCEPT, { kind: "abandon", request: "r-abandon" } as const]) {
      const bench = new Bench().give(input);
      expect(bench.error("request" in input ? input.request : "")).toContain("bad-request: No calibration is open");
    }
    const quiet = new Bench()
      .give({ kind: "fault", detail: "It fell silent." })
      .give({ kind: "epoch", board: null, amplifier: null, gain: null, powered_up_at_us: null })
      .read(0, 1);
    expect(quiet.effects).toEqual([]);
    expect(quiet.state).toBe(NO_PROCEDURE);
  });

  it("a second begin is told who is at it and since when", () => {
    const bench = new Bench().give(BEGIN).give({ ...BEGIN, request: "r-second", by: "technician-2" });
    expect(bench.error("r-second")).toBe(
      "busy: Station leg-press is being calibrated by technician-1 since 2026-11-24T09:00:00.000Z.",
    );
    const unnamed = new Bench().give({ ...BEGIN, by: null }).give({ ...BEGIN, request: "r-second" });
    expect(unnamed.error("r-second")).toContain("by somebody unnamed");
  });

  it("the unloaded point comes before the load, and both before accept", () => {
    expect(new Bench().give(BEGIN).give(load(100)).error("r-load")).toContain("unloaded point comes first");
    expect(new Bench().give(BEGIN).give(ACCEPT).error("r-accept")).toContain(
      "the unloaded point and the load point are missing",
    );
    expect(new Bench().give(BEGIN).give(ZERO).read(0, 24).give(ACCEPT).error("r-accept")).toContain(
      "The load point is",
    );
  });

  it("a running window is not disturbed by other requests", () => {
    const bench = new Bench().give(BEGIN).give(ZERO).read(0, 10);
    bench.give({ kind: "zero", request: "r-other" }).give(load(100)).give(ACCEPT);
    for (const request of ["r-other", "r-load", "r-accept"]) {
      expect(bench.error(request)).toBe("busy: A still window is being taken.");
    }
    expect(bench.read(0, 14).answer("r-zero")?.ok).toBe(true);
  });
});

describe("refused", () => {
  it("a load out of range at once, without waiting", () => {
    const bench = new Bench().give(BEGIN).give(ZERO).read(0, 24);
    expect(bench.give(load(5, "light")).error("light")).toContain("out-of-range: A load of 5 kg");
    expect(bench.give(load(600, "heavy")).error("heavy")).toContain("on a cell of 5000 N");
    expect(bench.give({ kind: "load", request: "none" }).error("none")).toContain("bad-request");
    expect(bench.give(load(100)).read(LOAD_N, 24).answer("r-load")?.ok).toBe(true);
  });

  it("a load that was never hung, keeping the unloaded point for another try", () => {
    const bench = new Bench().give(BEGIN).give(ZERO).read(0, 24).give(load(100)).read(0, 24);
    expect(bench.error("r-load")).toContain("out-of-range: Loaded and unloaded read the same");
    expect(bench.give(ACCEPT).error("r-accept")).toContain("The load point is missing");
    expect(bench.give(load(100, "again")).read(LOAD_N, 24).answer("again")?.ok).toBe(true);
  });

  it("a swinging load, by the scale in force where there is one, by the amplifier's range where there is none", () => {
    // 6 N of swing: above 5 N (5000 N cell), but under 0.1 % of the amplifier's range, which is 9.8 N here.
    const swing = (facts: ProcedureFacts): Bench => {
      const bench = new Bench().give({ ...BEGIN, facts }).give(ZERO);
      for (let i = 0; i < 24 * 80; i += 1) bench.read(6 * Math.SQRT2 * Math.sin(i / 12), 1 / 80);
      return bench;
    };
    expect(swing({ ...FACTS, in_force: IN_FORCE }).error("r-zero")).toMatch(
      /^not-still: .*\(6\.\d+ N\); at most \d+ counts \(5 N\)/,
    );
    expect(swing(FACTS).answer("r-zero")?.ok).toBe(true);
    const bench = swing(FACTS).give(load(100)).read(LOAD_N, 24);
    expect(bench.error("r-load")).toMatch(/^not-still: .*\(6\.\d+ N\); at most \d+ counts \(5 N\)/);
  });

  it("while the electronics warm up, with how long it still takes, and from 15 minutes on no more", () => {
    const facts = { ...FACTS, powered_up_at_us: 0 };
    const cold = new Bench().give({ ...BEGIN, at_us: 60_000_000, facts });
    expect(cold.error("r-begin")).toMatch(/^not-still: The electronics are warming up for another 14 min/);
    expect(cold.state).toBe(NO_PROCEDURE);
    // One that was switched on while the procedure was open is noticed by its hello.
    const bench = new Bench().give(BEGIN);
    const { board, amplifier, gain } = FACTS;
    bench.give({ kind: "epoch", board, amplifier, gain, powered_up_at_us: 0 }).give(ZERO).read(0, 0.1);
    expect(bench.error("r-zero")).toBe(
      "not-still: The electronics are warming up for another 15 min: their drift would be calibrated in.",
    );
    bench.at_us = 900_000_000;
    expect(bench.give({ kind: "zero", request: "warm" }).read(0, 24).answer("warm")?.ok).toBe(true);
    expect(warmUpLeft_s(899_999_999, 0)).toBeCloseTo(1e-6, 9);
    expect(warmUpLeft_s(900_000_000, 0)).toBe(0);
    expect(warmUpLeft_s(0, null)).toBe(0);
  });
});

describe("interrupted", () => {
  it("by a fault, the window is lost and the points stay", () => {
    const bench = new Bench().give(BEGIN).give(ZERO).read(0, 24).give(load(100)).read(LOAD_N, 22);
    bench.give({ kind: "fault", detail: "The sensor fell silent." });
    expect(bench.error("r-load")).toBe("sensor-fault: The sensor fell silent.");
    bench
      .give(load(100, "again"))
      .read(LOAD_N, 24)
      .give(check(50))
      .read(LOAD_N / 2, 24);
    expect(bench.give(ACCEPT).answer("r-accept")?.ok).toBe(true);
  });

  it("by a new epoch, the points are gone as well and the board's new facts hold", () => {
    const bench = new Bench().give(BEGIN).give(ZERO).read(0, 24).give(load(100)).read(LOAD_N, 10);
    bench.give({ kind: "epoch", board: "press-right", amplifier: "hx711", gain: 64, powered_up_at_us: null });
    expect(bench.error("r-load")).toContain("sensor-fault: The sensor's line was interrupted");
    expect(bench.give(load(100, "again")).error("again")).toContain("bad-request: The points taken so far are gone");
    bench.give({ kind: "zero", request: "z" }).read(0, 24).give(load(100, "l")).read(LOAD_N, 24);
    bench
      .give(check(50))
      .read(LOAD_N / 2, 24)
      .give(ACCEPT);
    const [record] = bench.effects.flatMap((effect) => (effect.do === "accepted" ? [effect.record] : []));
    expect(record).toMatchObject({ board: "press-right", gain: 64 });
  });

  it("by a new epoch between windows, whoever goes on is told, and a check of the old scale is not kept for the new", () => {
    const { board, amplifier, gain, powered_up_at_us } = FACTS;
    const facts = { ...FACTS, in_force: IN_FORCE };
    const bench = new Bench()
      .give({ ...BEGIN, facts })
      .take(check(50, "found"), LOAD_N / 2)
      .take(ZERO, 0)
      .take(load(100), LOAD_N)
      .take(check(50, "left"), LOAD_N / 2);
    bench.give({ kind: "epoch", board, amplifier, gain, powered_up_at_us });
    const gone = "bad-request: The points taken so far are gone: the line was interrupted or the board restarted.";
    // Not once, but until a new unloaded point is there; one that was not still is none.
    for (const time of ["once", "twice"]) {
      expect(bench.give(check(50, `check ${time}`)).error(`check ${time}`)).toBe(gone);
      expect(bench.give(load(100, `load ${time}`)).error(`load ${time}`)).toBe(gone);
      expect(bench.give({ ...ACCEPT, request: `accept ${time}` }).error(`accept ${time}`)).toBe(gone);
      bench.take({ kind: "zero", request: `zero ${time}` }, (s) => 30 * Math.sin(9 * s));
    }
    expect(bench.effects.some(({ do: what }) => what === "checked" || what === "accepted")).toBe(false);
    bench
      .take({ kind: "zero", request: "anew" }, 0)
      .take(load(100, "l"), LOAD_N)
      .take(check(50, "c"), LOAD_N / 2);
    const [record] = bench.give(ACCEPT).effects.flatMap((effect) => (effect.do === "accepted" ? [effect.record] : []));
    expect(record?.checks?.map(({ when }) => when)).toEqual(["as-found", "as-left"]);
  });

  it("by a new unloaded point, the load point is gone", () => {
    const bench = new Bench().give(BEGIN).give(ZERO).read(0, 24).give(load(100)).read(LOAD_N, 24);
    bench.give({ kind: "zero", request: "z" }).read(0, 24).give(ACCEPT);
    expect(bench.error("r-accept")).toContain("The load point is missing");
  });

  it("by abandoning it, a running window is answered before", () => {
    const bench = new Bench().give(BEGIN).give(ZERO).read(0, 10).give({ kind: "abandon", request: "r-abandon" });
    expect(bench.error("r-zero")).toContain("expired: The calibration was abandoned");
    expect(bench.answer("r-abandon")).toEqual({ ok: true, result: { abandoned: true } });
    expect(bench.effects.at(-1)).toMatchObject({ request: "r-abandon" });
    expect(bench.state).toBe(NO_PROCEDURE);
    expect(bench.give({ ...BEGIN, request: "next" }).answer("next")?.ok).toBe(true);
  });
});

describe("left alone", () => {
  const HOUR_US = 3_600_000_000;
  const later = (bench: Bench, by_us: number): Bench => {
    bench.at_us += by_us;
    return bench.read(0, 1);
  };

  it("for an hour it closes, so that nobody is kept from the station, and nothing is kept", () => {
    const bench = new Bench().give(BEGIN).give(ZERO).read(0, 24);
    later(bench, HOUR_US - 30_000_000);
    expect(bench.state.is).toBe("open");
    later(bench, 30_000_000);
    expect(bench.state).toBe(NO_PROCEDURE);
    expect(bench.effects.every((effect) => effect.do === "answer")).toBe(true);
    expect(bench.give({ ...BEGIN, request: "next", at_us: bench.at_us }).answer("next")?.ok).toBe(true);
  });

  it("counts from the last request, granted or refused", () => {
    const bench = new Bench().give(BEGIN).read(0, 1);
    later(bench, HOUR_US - 30_000_000).give(load(100, "refused"));
    expect(bench.answer("refused")?.ok).toBe(false);
    expect(later(bench, HOUR_US - 30_000_000).state.is).toBe("open");
  });

  it("while its record is on the way it waits", () => {
    const bench = whole().read(0, 1);
    expect(later(bench, 2 * HOUR_US).state.is).toBe("open");
    expect(bench.give({ kind: "stored", ok: false }).state.is).toBe("open");
  });
});
