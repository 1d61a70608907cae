/**
 * A load as people write it: `20 kg`, `44,1 lb`, `200 N`. A mass hangs and pulls with the gravity of the place, so `kg`, `g`
 * and `lb` become a mass; `N`, `kN`, `kgf` and `lbf` are forces, the same everywhere: a kgf is what a kilogram weighs at
 * standard gravity (9.80665 m/s2, CGPM 1901), up to 0.3 % off what it weighs here.
 */
import { KGF_N, LBF_N, POUND_KG } from "../../protocol/units.ts";

export type LoadAmount = { readonly mass_kg: number } | { readonly force_N: number };

export interface SpokenLoad {
  /** As a person says it: `44.1 lb`. */
  readonly said: string;
  readonly amount: LoadAmount;
  /** At standard gravity: good enough to put loads in order, not to calibrate by. */
  readonly about_N: number;
}

export type ReadLoad =
  | { readonly ok: true; readonly load: SpokenLoad }
  /** A sentence with what would do. */
  | { readonly ok: false; readonly message: string };
export type ReadLoads =
  | { readonly ok: true; readonly loads: readonly SpokenLoad[] }
  | { readonly ok: false; readonly message: string };

/** What the help says of it. */
export const LOAD_WORDS = "kg, g and lb are masses that hang here; N, kN, kgf and lbf are forces";

interface Unit {
  readonly said: string;
  readonly is: "mass_kg" | "force_N";
  /** In decimal, so that 500 g are 0.5 kg and not a rounding beside it. */
  readonly exponent: number;
  readonly factor: number;
}
const MASS = { is: "mass_kg", exponent: 0, factor: 1 } as const;
const FORCE = { is: "force_N", exponent: 0, factor: 1 } as const;
const POUND: Unit = { ...MASS, said: "lb", factor: POUND_KG };
const UNITS: Readonly<Record<string, Unit>> = {
  kg: { ...MASS, said: "kg" },
  g: { ...MASS, said: "g", exponent: -3 },
  lb: POUND,
  lbs: POUND,
  n: { ...FORCE, said: "N" },
  kn: { ...FORCE, said: "kN", exponent: 3 },
  kgf: { ...FORCE, said: "kgf", factor: KGF_N },
  lbf: { ...FORCE, said: "lbf", factor: LBF_N },
};

const refused = (message: string): { readonly ok: false; readonly message: string } => ({ ok: false, message });

/** One load, above zero. */
export function readLoad(typed: string): ReadLoad {
  const word = typed.trim();
  const [, digits, name] = /^([\d.,]+)\s*([a-z]*)$/i.exec(word) ?? [];
  if (digits === undefined || name === undefined) {
    return refused(`${word === "" ? "Nothing" : word} is no load: write it as 20 kg, 44.1 lb or 200 N.`);
  }
  const number = readDecimal(digits);
  if (!number.ok) return number;
  const { decimal } = number;
  if (name === "") {
    return refused(`${word} has no unit: write ${decimal} kg for a mass, or ${decimal} N for a force.`);
  }
  const key = name.toLowerCase();
  const unit = Object.hasOwn(UNITS, key) ? UNITS[key] : undefined;
  if (unit === undefined) return refused(`${name} is no unit of a load: ${LOAD_WORDS}.`);
  const value = Number(`${decimal}e${unit.exponent}`) * unit.factor;
  if (!(value > 0)) return refused("A load is more than nothing: say what hangs in all.");
  const mass = unit.is === "mass_kg";
  return {
    ok: true,
    load: {
      said: `${decimal} ${unit.said}`,
      amount: mass ? { mass_kg: value } : { force_N: value },
      about_N: mass ? value * KGF_N : value,
    },
  };
}

/** Several of them: parted by semicolons, or by commas behind a unit, so that `44,1 lb, 20 kg` is two. */
export function readLoads(typed: string): ReadLoads {
  const loads: SpokenLoad[] = [];
  for (const word of typed.split(/;|(?<=[a-z]\s*),/i)) {
    const read = readLoad(word);
    if (!read.ok) return read;
    loads.push(read.load);
  }
  return { ok: true, loads };
}

export type ReadDecimal =
  | {
      readonly ok: true;
      /** Digits with a point, as JavaScript reads them. */
      readonly decimal: string;
    }
  | { readonly ok: false; readonly message: string };

/**
 * A number with a point or a comma as its decimal sign, without a sign of its own. A comma before just three digits is a
 * decimal sign to one half of the world and parts the thousands for the other, a factor of a thousand apart; whoever
 * means it says it otherwise. A point is what this program writes itself.
 */
export function readDecimal(digits: string): ReadDecimal {
  if (/^[1-9]\d{0,2},\d{3}$/.test(digits)) {
    const [whole, rest] = digits.split(",");
    return refused(`${digits} can be read in two ways: write ${whole}${rest}, or ${whole}.${rest}.`);
  }
  if (!/^\d+(?:[.,]\d+)?$/.test(digits)) {
    return refused(`${digits} is no number with at most one decimal sign: write it as 1000.5 or 1000,5.`);
  }
  return { ok: true, decimal: digits.replace(",", ".") };
}
