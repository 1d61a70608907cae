import { describe, expect, test } from "vitest";
import { readLoads } from "../../../recorder/cli/check-dialog/loads.ts";

const loads = (words: string, flags = {}) => {
  const read = readLoads(words, flags);
  if ("exit" in read) throw new Error(read.message);
  return read;
};

describe("loads as people write them", () => {
  // Exact by definition: 1 lb = 0.45359237 kg, 1 kgf = 9.80665 N, 1 lbf = 4.4482216152605 N.
  test.each([
    ["20 kg", { mass_kg: 20 }],
    ["500g", { mass_kg: 0.5 }],
    ["100 lb", { mass_kg: 45.359237 }],
    ["200 N", { force_N: 200 }],
    ["10 kgf", { force_N: 98.0665 }],
    ["10 LBF", { force_N: 44.482216152605 }],
    ["44,1 kg", { mass_kg: 44.1 }],
  ])("%s", (words, wanted) => {
    const [{ request } = { request: {} }, ...others] = loads(words);
    expect(others).toEqual([]);
    expect(Object.keys(request)).toEqual(Object.keys(wanted));
    expect(Object.values(request)[0]).toBeCloseTo(Object.values(wanted)[0]!, 12);
  });

  test.each(["10 kg, 20 kg", "10kg,20kg", "10 kg; 20 kg", "10 kg , 20 kg"])("a list: %s", (words) =>
    expect(loads(words).map((load) => load.request)).toEqual([{ mass_kg: 10 }, { mass_kg: 20 }]),
  );

  test("decimal commas and lists at once", () =>
    expect(loads("2,5 kg, 44,1 lb; 7,5 N").map(({ said }) => said)).toEqual(["2.5 kg", "44.1 lb", "7.5 N"]));

  test("masses and forces stand in one order", () => {
    const [mass, force] = loads("20 kg, 200 N");
    expect(mass?.about_N).toBeCloseTo(196.133, 9);
    expect(force?.about_N).toBe(200);
  });

  test("what flags say is said of all of them", () => {
    const flags = { "tolerance-percent": "0,5", at: "handle", "lever-angle-deg": "-10" };
    for (const { request } of loads("10 kg, 200 N", flags)) {
      expect(request).toMatchObject({ relative_tolerance: 0.005, at: "handle", lever_angle_deg: -10 });
    }
  });

  test("a class is of each mass, and of no force", () => {
    // OIML R 111-1, M1: 20 kg 1 g, 20 g 2.5 mg.
    const flags = { "mass-class": "M1" };
    expect(loads("20 kg, 20 g", flags).map(({ request }) => request.relative_tolerance)).toEqual([5e-5, 1.25e-4]);
    for (const [words, more] of [
      ["200 N", {}],
      ["20 kg", { "mass-class": "M9" }],
      ["20 kg", { "tolerance-percent": "1" }],
    ] as const) {
      expect(readLoads(words, { ...flags, ...more })).toMatchObject({ exit: 2 });
    }
  });

  test.each(["", "20", "kg", "-5 kg", "0 kg", "1.000,5 kg", "10 kg 20 kg", "20 st", "1e3 N", "1,000 kg"])(
    "%j is refused",
    (words) => expect(readLoads(words, {})).toMatchObject({ exit: 2 }),
  );

  test.each([
    { at: "floor" },
    { "lever-angle-deg": "95" },
    { "lever-angle-deg": "steep" },
    { "tolerance-percent": "-1" },
  ])("with %j, too", (flags) => expect(readLoads("10 kg", flags)).toMatchObject({ exit: 2 }));
});
