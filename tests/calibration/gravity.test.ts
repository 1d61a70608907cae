import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { gravityAt_m_s2, loadForce_N, normalGravity_m_s2 } from "../../calibration/gravity.ts";

describe("normal gravity", () => {
  // WGS84 at the equator and the pole: published constants, NIMA TR8350.2. In between: computed independently from the
  // published closed formula, to ten decimals.
  it.each([
    [0, 9.7803253359],
    [15, 9.7837849624],
    [30, 9.7932472692],
    [45, 9.8061977694],
    [52, 9.8124740779],
    [60, 9.8191769531],
    [75, 9.8286966275],
    [90, 9.8321849378],
  ])("at %d degrees is %d m/s2", (latitude_deg, gravity) => {
    expect(normalGravity_m_s2(latitude_deg)).toBeCloseTo(gravity, 9);
    expect(normalGravity_m_s2(-latitude_deg)).toBe(normalGravity_m_s2(latitude_deg));
  });

  it("is the WGS84 ellipsoid's and not GRS80's, which differs by about 1.5e-6 m/s2", () => {
    // GRS80 published values at 0, 45 and 90 degrees.
    for (const [latitude_deg, grs80] of [
      [0, 9.780326772],
      [45, 9.806199203],
      [90, 9.832186368],
    ] as const) {
      const apart = Math.abs(normalGravity_m_s2(latitude_deg) - grs80);
      expect(apart).toBeGreaterThan(1.3e-6);
      expect(apart).toBeLessThan(1.6e-6);
    }
  });

  it("averages over the ellipsoid to the published mean of WGS84, 9.7976432222 m/s2, not GRS80's 9.797644656", () => {
    // Published means, NIMA TR8350.2 (from memory) and the definition of GRS80; weight of a latitude: the ellipsoid's own area element.
    const e2 = 0.00669437999013;
    let area = 0;
    let sum = 0;
    for (let i = 0; i < 20_000; i += 1) {
      const latitude = ((i + 0.5) / 20_000) * (Math.PI / 2);
      const weight = Math.cos(latitude) / (1 - e2 * Math.sin(latitude) ** 2) ** 2;
      area += weight;
      sum += weight * normalGravity_m_s2((latitude * 180) / Math.PI);
    }
    expect(sum / area).toBeCloseTo(9.7976432222, 9);
  });
});

describe("gravity at altitude", () => {
  it("falls by the free-air gradient, 0.3086 mGal a metre, to first order", () => {
    const per_m = (gravityAt_m_s2(45, 0) - gravityAt_m_s2(45, 100)) / 100;
    expect(per_m).toBeCloseTo(3.086e-6, 8);
  });

  it("is the same as normal gravity at sea level and lower on a mountain", () => {
    expect(gravityAt_m_s2(52, 0)).toBe(normalGravity_m_s2(52));
    // Second-order free-air correction (secondary source), worked by hand at the equator: 0.00308769 - 0.00000072.
    expect(gravityAt_m_s2(0, 0) - gravityAt_m_s2(0, 1000)).toBeCloseTo(0.003087691 - 0.00000072125, 12);
  });

  it("only ever falls on the way up", () => {
    fc.assert(
      fc.property(
        fc.double({ min: -90, max: 90, noNaN: true }),
        fc.double({ min: -400, max: 5900, noNaN: true }),
        (latitude_deg, altitude_m) =>
          gravityAt_m_s2(latitude_deg, altitude_m + 50) < gravityAt_m_s2(latitude_deg, altitude_m),
      ),
    );
  });
});

describe("the force of a hung mass", () => {
  it("of 20 kg at 52 degrees and sea level is 196.2200 N, not the nominal 196.1330 N", () => {
    // Computed independently: 20 kg x 9.8124740779 m/s2 x (1 - 1.2/8000).
    const force_N = loadForce_N({ mass_kg: 20, latitude_deg: 52, altitude_m: 0 });
    expect(force_N).toBeCloseTo(196.22, 3);
    expect(Math.abs(force_N - 20 * 9.80665)).toBeGreaterThan(0.08);
  });

  it("loses 1.5 % across a lever ten degrees off level, either way", () => {
    const level = loadForce_N({ mass_kg: 20, latitude_deg: 45, altitude_m: 0 });
    for (const lever_angle_deg of [10, -10]) {
      const turned = loadForce_N({ mass_kg: 20, latitude_deg: 45, altitude_m: 0, lever_angle_deg });
      expect(1 - turned / level).toBeCloseTo(0.0152, 4);
    }
    expect(loadForce_N({ mass_kg: 20, latitude_deg: 45, altitude_m: 0, lever_angle_deg: 0 })).toBe(level);
    expect(loadForce_N({ mass_kg: 20, latitude_deg: 45, altitude_m: 0, lever_angle_deg: 60 })).toBeCloseTo(
      level / 2,
      9,
    );
  });
});
