/** Rate, loss, noise, bits, spikes, averaging and range in synthetic samples, at their limits. */
import { describe, expect, it } from "vitest";
import { examineSensor } from "../../../calibration/self-test/examine.ts";
import { SENSOR_CHECKS, worstOf } from "../../../calibration/self-test/finding.ts";
import type { Sample } from "../../../calibration/self-test/sample.ts";
import { cleaned } from "../../../calibration/self-test/spikes.ts";
import { amount, digits, percent } from "../../../calibration/self-test/wording.ts";
import { normalAt, uniformAt } from "../../../recorder/simulated-gym/random.ts";
import { frozen } from "../frozen.ts";
import { FACTS } from "./boards.ts";
import { figure, found, made, NO_SCALE } from "./made-samples.ts";

describe("the whole", () => {
  it("says every thing once, in order, without touching what it was given", () => {
    const findings = examineSensor(frozen(made()), frozen(FACTS));
    expect(findings.map(({ check }) => check)).toEqual(SENSOR_CHECKS);
    expect(worstOf(findings)).toBe("good");
    expect(worstOf(examineSensor(made({ rate_Hz: 10 }), FACTS))).toBe("fault");
    expect(worstOf([])).toBe("good");
  });

  it("has one sentence for what was found, and one for what would do exactly where something is to be done", () => {
    const samples: Sample[] = [
      made(),
      made({ rate_Hz: 10 }),
      made({ sd_counts: 30_000 }),
      made({ reads: (counts, index) => (index % 40 === 0 ? -counts : counts) }),
      made({ reads: (counts) => counts * 8 }),
      made({ reads: () => 8_388_607 }),
      made({ reads: () => 7 }),
      made({ duration_s: 1 }),
      { ...made(), readings_lost: 40, lines_rejected: 12 },
      made({ level_counts: 6_000_000 }),
      made({ adds: (at_s) => 400 * Math.sin(8 * at_s) + 60 * at_s }),
      made({ adds: (at_s) => 900 * Math.sin(2 * Math.PI * 50.1 * at_s) + 3000 * Math.floor(at_s / 3) }),
    ];
    for (const sample of samples) {
      for (const facts of [FACTS, NO_SCALE, { ...FACTS, dialect: "bare" } as const]) {
        for (const finding of examineSensor(sample, facts)) {
          expect(finding.do === null, finding.what).toBe(finding.level === "good");
          for (const said of finding.do === null ? [finding.what] : [finding.what, finding.do]) {
            expect(said, finding.check).toMatch(/^[A-Z0-9].*\.$/s);
            expect(said, "one sentence").not.toMatch(/\. [A-Z]/);
          }
          expect(finding.what).not.toMatch(/NaN|undefined|Infinity|null|e-\d/);
          for (const value of Object.values(finding.values)) expect(Number.isNaN(value)).toBe(false);
          if (facts.counts_per_N === null) expect(finding.what).not.toMatch(/\d N\b/);
        }
      }
    }
  });

  it("says of nothing, of little and of pairs that do not match what they are", () => {
    expect(examineSensor(made({ duration_s: 0.1 }), FACTS).map(({ check, level }) => [check, level])).toEqual([
      ["readings", "fault"],
      ["lines", "good"],
    ]);
    const nothing = { at_us: [], counts: [], readings_lost: 0, lines_rejected: 9 };
    expect(examineSensor(nothing, FACTS).map(({ level }) => level)).toEqual(["fault", "fault"]);
    expect(() => examineSensor({ ...nothing, counts: [1] }, FACTS)).toThrow(RangeError);
  });

  it("is the same with the wires reversed", () => {
    const turned = made({ reads: (counts) => -counts });
    const facts = { ...FACTS, counts_per_N: -FACTS.counts_per_N!, zero_counts: -FACTS.zero_counts! };
    const levels = (sample: Sample, of: typeof FACTS) => examineSensor(sample, of).map(({ level }) => level);
    expect(levels(turned, facts)).toEqual(levels(made(), FACTS));
    expect(figure(found("noise", turned, facts), "sd_N")).toBeCloseTo(figure(found("noise", made()), "sd_N"), 9);
  });
});

describe("rate, jitter and loss", () => {
  it.each([
    [47, "fault"],
    [49, "notice"],
    [63, "notice"],
    [65, "good"],
    [94, "good"],
    [97, "notice"],
    [119, "notice"],
    [121, "fault"],
  ])("%d readings a second where 80 are configured: %s", (rate_Hz, level) => {
    expect(found("rate", made({ rate_Hz })).level).toBe(level);
  });

  it("names the rate pin for 10 instead of 80, and the other way", () => {
    expect(found("rate", made({ rate_Hz: 10 })).do).toMatch(/rate pin/);
    expect(found("rate", made({ rate_Hz: 80 }), { ...FACTS, configured_rate_Hz: 10 }).level).toBe("fault");
  });

  it("tells readings that never came from an amplifier that is slow", () => {
    const whole = made();
    const kept = (_: unknown, index: number): boolean => index % 10 !== 0;
    const sample = { ...whole, at_us: whole.at_us.filter(kept), counts: whole.counts.filter(kept), readings_lost: 80 };
    expect(found("rate", sample).level).toBe("good");
    expect(figure(found("rate", sample), "conversions_Hz")).toBeCloseTo(80, 6);
    const loss = found("loss", sample);
    expect(loss.level).toBe("fault");
    expect(figure(loss, "share")).toBeCloseTo(0.1, 2);
    expect(found("loss", { ...made(), readings_lost: 3 }).level).toBe("notice");
    expect(found("lines", { ...made(), lines_rejected: 3 }).level).toBe("notice");
    expect(found("lines", { ...made(), lines_rejected: 30 }).level).toBe("fault");
  });

  it("calls a pause that a set would not bridge a fault", () => {
    const late = (by_us: number): Sample => {
      const sample = made();
      return { ...sample, at_us: sample.at_us.map((at, index) => (index > 400 ? at + by_us : at)) };
    };
    expect(found("loss", late(280_000)).level).toBe("notice");
    expect(found("loss", late(300_000)).level).toBe("fault");
  });

  it("measures jitter, and blames the host for it on a bare line", () => {
    const sample = made();
    const uneven = { ...sample, at_us: sample.at_us.map((at, i) => at + Math.round(1500 * normalAt(8, i))) };
    const finding = found("jitter", uneven);
    expect(finding.level).toBe("notice");
    // Each interval has the scatter of two stamps.
    expect(Math.abs(figure(finding, "sd_ms") - 1.5 * Math.SQRT2)).toBeLessThan(0.25);
    const bare = found("jitter", uneven, { ...FACTS, dialect: "bare" });
    expect(bare.level).toBe("good");
    expect(bare.what).toMatch(/host/);
  });
});

describe("noise", () => {
  it("is the standard deviation of one reading, which drift hardly moves", () => {
    const still = found("noise", made());
    expect(Math.abs(figure(still, "sd_counts") - 38.7)).toBeLessThan(2.5);
    expect(figure(still, "noise_free_counts")).toBeCloseTo(6.6 * figure(still, "sd_counts"), 9);
    expect(figure(still, "effective_bits") - figure(still, "noise_free_bits")).toBeCloseTo(Math.log2(6.6), 9);
    expect(figure(still, "sd_N")).toBeCloseTo(figure(still, "sd_counts") / FACTS.counts_per_N!, 9);
    const drifting = found("noise", made({ adds: (at_s) => 200 * at_s }));
    expect(Math.abs(figure(drifting, "sd_counts") - figure(still, "sd_counts"))).toBeLessThan(0.2);
    expect(figure(drifting, "plain_sd_counts")).toBeGreaterThan(500);
  });

  it("is a notice beyond three times the datasheet, a fault where stops cannot be relied on", () => {
    expect(found("noise", made({ sd_counts: 105 })).level).toBe("good");
    expect(found("noise", made({ sd_counts: 130 })).level).toBe("notice");
    // Averaged over 16 readings, 10 N of 500 N: 4 x 10 N x 2147 counts; as movement, 25 d = 21 475 counts, comes first.
    expect(found("noise", made({ sd_counts: 19_500 })).level).toBe("notice");
    expect(found("noise", made({ sd_counts: 24_000 })).level).toBe("fault");
    expect(found("noise", made({ sd_counts: 5000 }), { ...FACTS, working_force_N: 20 }).level).toBe("fault");
    expect(found("noise", made({ sd_counts: 1000 }), { ...FACTS, working_force_N: 20 }).level).toBe("notice");
  });

  it("is measured beside the spikes, not with them", () => {
    const spiky = made({ reads: (counts, index) => (index % 50 === 20 ? 4_194_303 : counts) });
    expect(Math.abs(figure(found("noise", spiky), "sd_counts") - 38.7)).toBeLessThan(3);
  });
});

describe("readings that are not the amplifier's", () => {
  it.each([1, 2, 5])("finds %d lowest bits that never change", (bits) => {
    const finding = found("bits", made({ reads: (counts) => Math.floor(counts / 2 ** bits) * 2 ** bits }));
    expect(finding.level).toBe("fault");
    expect(finding.values).toMatchObject({ lowest_stuck: bits, step_counts: 2 ** bits });
  });

  it.each([0, 3, 5])("finds bit %d stuck on and off, of negative counts too", (bit) => {
    const on = found("bits", made({ reads: (counts) => counts | (1 << bit) }));
    const off = found("bits", made({ level_counts: -90_000, reads: (counts) => counts & ~(1 << bit) }));
    expect([on.level, off.level]).toEqual(["fault", "fault"]);
    expect([on.values["stuck_bits"], off.values["stuck_bits"]]).toEqual([`${bit}`, `${bit}`]);
  });

  it("blames no bit of a value that jumps between two levels, swings or hardly moves", () => {
    for (let seed = 0; seed < 60; seed += 1) {
      const gap = 200 + 4000 * uniformAt(7, seed);
      const jumping = made({ seed, adds: (at_s) => gap * (Math.floor(at_s / 2) % 2) });
      const level_counts = 107_374 + 1024 * uniformAt(9, seed);
      const swinging = made({
        seed,
        level_counts,
        adds: (at_s) => gap * Math.sin(2 * Math.PI * (35 + seed / 30) * at_s),
      });
      // Four values and their noise, over and over.
      const in_step = made({ seed, level_counts, adds: (at_s) => gap * Math.sin(2 * Math.PI * 60 * at_s + seed) });
      const quiet = made({ seed, sd_counts: 1.5 });
      for (const sample of [jumping, swinging, in_step, quiet]) expect(found("bits", sample).level).toBe("good");
    }
  });

  it("takes a dead amplifier for dead, and a board that rounds for one that may round", () => {
    expect(found("stuck", made({ reads: () => 42 })).level).toBe("fault");
    expect(found("stuck", made({ reads: (_, index) => (index === 300 ? 43 : 42) })).level).toBe("fault");
    expect(found("stuck", made({ sd_counts: 0.1 })).level).toBe("fault");
    expect(found("stuck", made({ sd_counts: 1 })).level).toBe("good");
    expect(found("stuck", made({ reads: () => 42 }), { ...FACTS, dialect: "bare" }).level).toBe("notice");
  });

  it("tells the end of the range from one reading misread as that", () => {
    const saturated = made({ reads: (counts, index) => (index % 4 === 0 ? -8_388_608 : counts) });
    expect(found("saturation", saturated).level).toBe("fault");
    expect(examineSensor(saturated, FACTS).at(-1)?.check).toBe("saturation");
    const once = made({ reads: (counts, index) => (index === 99 ? 8_388_607 : counts) });
    expect(found("saturation", once).level).toBe("notice");
    expect(found("spikes", once).values).toMatchObject({ spikes: 1, end_of_range: 1 });
    const run = made({ reads: (counts, index) => (index >= 99 && index < 102 ? 8_388_607 : counts) });
    expect(found("saturation", run).level).toBe("fault");
  });

  it.each([
    ["ones", 65_535],
    ["ones", -65_536],
    ["zero", 0],
    ["sign", -107_374],
    ["shifted", 214_748],
    ["shifted", 53_687],
    ["one_bit", 107_374 + 2 ** 19],
    ["other", 107_374 + 300_000],
  ])("knows the kind %s of %d", (kind, wild) => {
    const finding = found("spikes", made({ reads: (counts, index) => (index === 333 ? wild : counts) }));
    expect(finding.values).toMatchObject({ spikes: 1, [kind]: 1 });
    expect(finding.level).toBe("notice");
  });

  it("counts spikes at either end, and leaves a step alone wherever it is", () => {
    for (const at of [0, 1, 400, 799, 800]) {
      expect(found("spikes", made({ reads: (c, i) => (i === at ? -c : c) })).values["spikes"], `${at}`).toBe(1);
    }
    for (const at of [2, 3, 400, 797, 799]) {
      expect(found("spikes", made({ adds: (_, i) => (i >= at ? 9000 : 0) })).values["spikes"], `${at}`).toBe(0);
    }
  });

  it("calls a few a notice, and many, or two together, a fault", () => {
    const at = (...indexes: number[]) => made({ reads: (c, i) => (indexes.includes(i) ? -c : c) });
    expect(found("spikes", at(100, 300)).level).toBe("notice");
    expect(found("spikes", at(100, 101)).level).toBe("fault");
    expect(found("spikes", at(100, 102)).level).toBe("fault");
    expect(found("spikes", at(100, 300, 500)).level).toBe("fault");
    expect(cleaned(at(100, 101).counts, 859).spikes.map(({ index }) => index)).toEqual([100, 101]);
  });
});

describe("averaging and range", () => {
  it("finds what independent readings leave over the windows of a set", () => {
    const finding = found("averaging", made({ duration_s: 60 }));
    expect(finding.level).toBe("good");
    expect(Math.abs(figure(finding, "smoothed_0_2_s_counts") / (38.7 / 4) - 1)).toBeLessThan(0.1);
    expect(Math.abs(figure(finding, "smoothed_1_s_counts") / (38.7 / Math.sqrt(80)) - 1)).toBeLessThan(0.2);
    expect(figure(finding, "longest_tau_s")).toBeCloseTo(15, 1);
  });

  it("finds where a drift begins to show", () => {
    // Deviation of a drift of r a second is r tau / sqrt(2), of noise s / sqrt(tau rate): equal at 2^(1/3) (s / r)^(2/3) / rate^(1/3).
    const finding = found("averaging", made({ duration_s: 60, adds: (at_s) => 6 * at_s }));
    const crossing_s = (Math.SQRT2 * 38.7) ** (2 / 3) / 6 ** (2 / 3) / 80 ** (1 / 3);
    expect(figure(finding, "best_tau_s")).toBeGreaterThan(crossing_s / 2.5);
    expect(figure(finding, "best_tau_s")).toBeLessThan(crossing_s * 2.5);
    expect(figure(finding, "rises_from_s")).toBeGreaterThan(figure(finding, "best_tau_s"));
  });

  it("calls a value that jumps unsteady where it would not count as still", () => {
    const jumping = (by: number) => made({ adds: (at_s) => by * Math.round(uniformAt(21, Math.floor(at_s * 1.3))) });
    expect(found("averaging", jumping(1700)).level).toBe("fault");
    expect(found("averaging", jumping(300)).level).toBe("notice");
    expect(found("averaging", jumping(20)).level).toBe("good");
  });

  it("says where the range ends, and whether capacity and an overload fit", () => {
    const range = (counts_per_N: number, level_counts = 0) =>
      found("range", made({ level_counts }), { ...FACTS, counts_per_N, zero_counts: level_counts });
    // 8 388 607 counts over 2000 N are 4194 a newton; over 2500 N 3355.
    expect(range(4250).level).toBe("fault");
    expect(range(4100).level).toBe("notice");
    expect(range(3400).level).toBe("notice");
    expect(range(3300).level).toBe("good");
    expect(range(-3300).level).toBe("good");
    expect(range(150).level).toBe("notice");
    expect(figure(range(2147.48), "capacity_share")).toBeCloseTo(0.512, 3);
    expect(figure(range(-2147.48, 1_000_000), "saturates_at_N")).toBeCloseTo(9_388_607 / 2147.48, 6);
    expect(figure(range(2147.48, 1_000_000), "saturates_at_N")).toBeCloseTo(7_388_607 / 2147.48, 6);
    expect(range(4250).do).toMatch(/gain to 64/);
    expect(found("range", made(), { ...FACTS, gain: 64, counts_per_N: 4250 }).do).toMatch(/^Use a cell/);
    expect(found("range", made(), { ...FACTS, gain: 64, counts_per_N: 150 }).do).toMatch(/gain to 128/);
    expect(range(1000, 4_300_000).level).toBe("notice");
    expect(found("range", made({ level_counts: 4_300_000 }), NO_SCALE).level).toBe("notice");
    expect(found("range", made(), NO_SCALE).level).toBe("good");
  });
});

describe("wording", () => {
  it("writes numbers plainly", () => {
    expect([0, 38.71, 1240.4, 0.00212, 0.00002, -0.5, 7, 8_388_607].map(digits)).toEqual([
      "0",
      "38.7",
      "1240",
      "0.0021",
      "0",
      "-0.5",
      "7",
      "8388607",
    ]);
    expect(amount(1, null)).toBe("1 count");
    expect(amount(43, -2147.48)).toBe("43 counts (0.02 N)");
    expect([percent(0.512), percent(0.00125), percent(-0.0051)]).toEqual(["51 %", "0.13 %", "-0.51 %"]);
  });
});
