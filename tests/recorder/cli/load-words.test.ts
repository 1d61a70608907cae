import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type LoadAmount, readLoad, readLoads } from "../../../recorder/cli/load-words.ts";

const amountOf = (typed: string): LoadAmount => {
  const read = readLoad(typed);
  if (!read.ok) throw new Error(read.message);
  return read.load.amount;
};
const refusalOf = (typed: string): string => {
  const read = readLoad(typed);
  return read.ok ? "" : read.message;
};

describe("a load in words", () => {
  // 1 lb = 0.45359237 kg exactly (yard and pound agreement, 1959); 1 kgf = 9.80665 N, 1 lbf = 4.4482216152605 N, from the
  // standard gravity of the CGPM, 1901; NIST SP 811 appendix B, from memory.
  it.each([
    ["20 kg", { mass_kg: 20 }],
    ["20kg", { mass_kg: 20 }],
    ["  20.5  KG ", { mass_kg: 20.5 }],
    ["20,5 kg", { mass_kg: 20.5 }],
    ["19.985 kg", { mass_kg: 19.985 }],
    ["0,500 kg", { mass_kg: 0.5 }],
    ["500 g", { mass_kg: 0.5 }],
    ["1 g", { mass_kg: 0.001 }],
    ["1 lb", { mass_kg: 0.45359237 }],
    ["45 lbs", { mass_kg: 20.41165665 }],
    ["196.2 N", { force_N: 196.2 }],
    ["1,25 kN", { force_N: 1250 }],
    ["1 kgf", { force_N: 9.80665 }],
    ["1 lbf", { force_N: 4.4482216152605 }],
  ])("%s", (typed, amount) => {
    expect(amountOf(typed)).toEqual(amount);
  });

  it("says it again with a point and the unit as it is written", () => {
    const read = readLoad("44,1LBS");
    expect(read.ok && read.load.said).toBe("44.1 lb");
  });

  it("comes back from every number and unit", () => {
    const units = {
      kg: "mass_kg",
      g: "mass_kg",
      lb: "mass_kg",
      N: "force_N",
      kN: "force_N",
      kgf: "force_N",
      lbf: "force_N",
    };
    const per = { kg: 1, g: 0.001, lb: 0.45359237, N: 1, kN: 1000, kgf: 9.80665, lbf: 4.4482216152605 };
    const names = Object.keys(units) as (keyof typeof units)[];
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 10_000_000 }),
        fc.integer({ min: 0, max: 4 }),
        fc.constantFrom(...names),
        fc.constantFrom(".", ","),
        (whole, decimals, unit, sign) => {
          const text = (whole / 10 ** decimals).toFixed(decimals);
          fc.pre(sign === "." || decimals !== 3);
          const amount = amountOf(`${text.replace(".", sign)} ${unit}`) as Record<string, number>;
          const value = amount[units[unit]] ?? Number.NaN;
          expect(Object.keys(amount)).toEqual([units[unit]]);
          expect(Math.abs(value / per[unit] / Number(text) - 1)).toBeLessThan(1e-15 * 4);
          // What was said reads as the same load.
          const again = readLoad(`${text} ${unit}`);
          expect(again.ok && readLoad(again.load.said)).toEqual(again);
        },
      ),
    );
  });

  it("is not guessed where it can be read in two ways", () => {
    expect(refusalOf("1,000 kg")).toBe("1,000 can be read in two ways: write 1000, or 1.000.");
    expect(refusalOf("20,125 kg")).toContain("write 20125, or 20.125");
    expect(refusalOf("1,000.5 kg")).toContain("write it as 1000.5 or 1000,5");
    expect(refusalOf("1.000,5 kg")).toContain("at most one decimal sign");
    expect(refusalOf("1,000,000 g")).toContain("at most one decimal sign");
  });

  it("is refused without a unit, or with one of something else", () => {
    expect(refusalOf("20")).toBe("20 has no unit: write 20 kg for a mass, or 20 N for a force.");
    expect(refusalOf("20,5")).toContain("write 20.5 kg");
    expect(refusalOf("20 st")).toBe(
      "st is no unit of a load: kg, g and lb are masses that hang here; N, kN, kgf and lbf are forces.",
    );
    expect(refusalOf("20 constructor")).toContain("is no unit");
  });

  it.each(["", "kg", "a plate", "-20 kg", "1e3 kg", "20 kg kg", "0x10 kg", "+5 N"])("%j is no load", (typed) => {
    expect(refusalOf(typed)).toContain("is no load: write it as");
  });

  it("is more than nothing", () => {
    expect(refusalOf("0 kg")).toBe("A load is more than nothing: say what hangs in all.");
    expect(refusalOf("0,0 N")).toContain("more than nothing");
  });

  it("puts a mass and a force in order, at standard gravity", () => {
    const read = readLoads("20 kg; 100 N, 44,1 lb,10kgf");
    expect(read.ok && read.loads.map(({ said }) => said)).toEqual(["20 kg", "100 N", "44.1 lb", "10 kgf"]);
    expect(read.ok && read.loads[0]?.about_N).toBeCloseTo(196.133, 9);
    expect(readLoads("20 kg, ").ok).toBe(false);
    expect(readLoads("20 kg, 5").ok).toBe(false);
  });
});
