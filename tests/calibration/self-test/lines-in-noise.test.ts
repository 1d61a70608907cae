/** Mains, swings, drift and movement in synthetic samples, whose truth is what the test put in. */
import { describe, expect, it } from "vitest";
import { aliasOf } from "../../../calibration/self-test/mains.ts";
import { amplitudeOf, explainedSquares, lineThrough } from "../../../calibration/self-test/sine-fit.ts";
import { uniformAt } from "../../../recorder/simulated-gym/random.ts";
import { FACTS } from "./boards.ts";
import { figure, found, made, NO_SCALE } from "./made-samples.ts";

const sine =
  (frequency_Hz: number, amplitude: number, phase = 0.3) =>
  (at_s: number): number =>
    amplitude * Math.sin(2 * Math.PI * frequency_Hz * at_s + phase);

describe("a sine fit", () => {
  it("gives the amplitude of a tone above half the rate at uneven times", () => {
    const at_s = Array.from({ length: 400 }, (_, index) => index / 80 + 0.004 * uniformAt(5, index));
    const values = at_s.map(sine(50, 7));
    const [squares] = explainedSquares(at_s, values, { from_Hz: 50, step_Hz: 1, steps: 1 });
    expect(amplitudeOf(squares!, 400)).toBeCloseTo(7, 1);
    expect(squares! / values.reduce((sum, value) => sum + value ** 2, 0)).toBeCloseTo(1, 9);
  });

  it("gives the same by turning on from step to step as anew", () => {
    const at_s = Array.from({ length: 300 }, (_, index) => index / 80);
    const values = at_s.map((at) => sine(13, 5)(at) + sine(29, 2)(at));
    const turned = explainedSquares(at_s, values, { from_Hz: 0.3, step_Hz: 0.05, steps: 700 });
    const [anew] = explainedSquares(at_s, values, { from_Hz: 0.3 + 0.05 * 699, step_Hz: 1, steps: 1 });
    expect(turned[699]).toBeCloseTo(anew!, 6);
  });

  it("at exactly half the rate gives what can be seen of it, never more", () => {
    const at_s = Array.from({ length: 400 }, (_, index) => index / 80);
    const [seen] = explainedSquares(at_s, at_s.map(sine(120, 10, Math.PI / 6)), { from_Hz: 120, step_Hz: 1, steps: 1 });
    // sin(pi/6) = 1/2 of ten, alternating.
    expect(seen! / 400).toBeCloseTo(25, 6);
  });

  it("and a line through points gives slope and middle", () => {
    const { slope, mean, middle_s } = lineThrough([0, 1, 2, 3], [1_000_001, 1_000_003, 1_000_005, 1_000_007]);
    expect([slope, mean, middle_s]).toEqual([2, 1_000_004, 1.5]);
  });
});

describe("mains", () => {
  it("50 Hz shows at 30 Hz and 60 at 20 among 80 readings a second", () => {
    expect([50, 60, 100, 120].map((frequency) => aliasOf(frequency, 80))).toEqual([30, 20, 20, 40]);
  });

  it.each([
    [50, 50.02, 79.1],
    [60, 59.98, 83],
    [50, 50.2, 80],
    [100, 99.6, 93.7],
    [60, 60, 88.2],
  ])("names %d Hz where %d Hz was put in at %d readings a second", (named, truth, rate_Hz) => {
    const finding = found("mains", made({ rate_Hz, adds: sine(truth, 500) }), { ...FACTS, configured_rate_Hz: 80 });
    expect(finding.level).toBe("fault");
    expect(`${finding.values["frequency_Hz"]}`.split(" or ")).toContain(`${named}`);
    expect(Math.abs(figure(finding, "amplitude_counts") - 500)).toBeLessThan(15);
    expect(Math.abs(figure(finding, "seen_at_Hz") - aliasOf(truth, rate_Hz))).toBeLessThan(0.05);
    expect(figure(finding, "amplitude_N")).toBeCloseTo(figure(finding, "amplitude_counts") / FACTS.counts_per_N!, 9);
  });

  it("names both where they cannot be told apart, and one where the local mains is said", () => {
    const sample = made({ rate_Hz: 80, adds: sine(60, 500) });
    expect(found("mains", sample).values["frequency_Hz"]).toBe("60 or 100");
    expect(found("mains", sample, { ...FACTS, mains_Hz: 60 }).values["frequency_Hz"]).toBe("60");
  });

  it("is a fault from half a division on, a notice above the noise, nothing below it", () => {
    // d = 2000 N / 5000 = 859 counts.
    expect(found("mains", made({ adds: sine(50.1, 445) })).level).toBe("fault");
    expect(found("mains", made({ adds: sine(50.1, 410) })).level).toBe("notice");
    expect(found("mains", made({ adds: sine(50.1, 60) })).level).toBe("notice");
    const weak = found("mains", made({ adds: sine(50.1, 25) }));
    expect(weak.level).toBe("good");
    expect(Math.abs(figure(weak, "amplitude_counts") - 25)).toBeLessThan(6);
  });

  it("is named by chance in fewer than one of a hundred quiet samples", () => {
    const named = Array.from({ length: 150 }, (_, seed) => found("mains", made({ seed: 100 + seed }))).filter(
      (finding) => finding.values["amplitude_counts"] !== null,
    );
    expect(named.length).toBeLessThanOrEqual(1);
  });

  it("says what a rate hides: at 10 a second all of them stand still", () => {
    const finding = found("mains", made({ rate_Hz: 10, adds: sine(50, 500) }));
    expect(finding.level).toBe("good");
    expect(finding.values["hidden_Hz"]).toBe("50 60 100 120");
    expect(finding.what).toMatch(/cannot be seen/);
  });

  it("speaks in counts alone where there is no scale", () => {
    const finding = found("mains", made({ adds: sine(50.1, 500) }), NO_SCALE);
    expect(finding.level).toBe("fault");
    expect(finding.values["amplitude_N"]).toBeNull();
    expect(finding.what).not.toMatch(/ N\b/);
  });
});

describe("swing, drift and rest", () => {
  it.each([0.7, 1.3, 4.2])("finds what swings %d times a second", (frequency_Hz) => {
    const notice = found("swing", made({ adds: sine(frequency_Hz, 400) }));
    expect(notice.level).toBe("notice");
    expect(Math.abs(figure(notice, "frequency_Hz") - frequency_Hz)).toBeLessThan(0.05);
    expect(Math.abs(figure(notice, "amplitude_counts") - 400)).toBeLessThan(20);
    expect(found("swing", made({ adds: sine(frequency_Hz, 1900) })).level).toBe("fault");
    expect(found("swing", made()).level).toBe("good");
  });

  it("does not call the mains a swing", () => {
    // 50 Hz at 53 readings a second shows at 3 Hz.
    const sample = made({ rate_Hz: 53, adds: sine(50, 600) });
    expect(found("mains", sample).level).toBe("fault");
    expect(found("mains", sample).what).toMatch(/or something that swings/);
    expect(found("swing", sample).level).toBe("good");
  });

  it("gives drift in counts and newtons a minute, with the sign of the scale", () => {
    // 3 divisions a minute is what the zero can follow: 2577 counts.
    const drifting = (per_min: number) => made({ adds: (at_s) => (per_min * at_s) / 60 });
    const slow = found("drift", drifting(1200));
    expect(slow.level).toBe("notice");
    expect(Math.abs(figure(slow, "drift_counts_per_min") - 1200)).toBeLessThan(100);
    expect(figure(slow, "drift_N_per_min")).toBeCloseTo(figure(slow, "drift_counts_per_min") / FACTS.counts_per_N!, 9);
    const reversed = found("drift", drifting(1200), { ...FACTS, counts_per_N: -2147.48 });
    expect(figure(reversed, "drift_N_per_min")).toBeLessThan(0);
    expect(found("drift", drifting(300)).level).toBe("good");
    expect(found("drift", drifting(-2900)).level).toBe("fault");
    expect(found("drift", drifting(2300)).level).toBe("notice");
    expect(found("drift", drifting(1200), NO_SCALE).what).not.toMatch(/ N\b/);
  });

  it("says first that it was not at rest", () => {
    // Ten divisions are 8590 counts.
    const moved = (by: number) => made({ adds: (at_s) => (at_s > 5 ? by : 0) });
    expect(found("rest", moved(8300)).level).toBe("good");
    const finding = found("rest", moved(9000));
    expect(finding.level).toBe("fault");
    expect(finding.what).toMatch(/not at rest/);
    expect(found("rest", made()).values["indicated_force_N"]).toBeCloseTo(0, 1);
  });

  it("does not take noise for movement", () => {
    expect(found("rest", made({ sd_counts: 20_000 })).level).toBe("good");
  });
});
