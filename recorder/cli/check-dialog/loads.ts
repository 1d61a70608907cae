/** Loads as people write them, in a list: `10 kg, 20 kg`, `44,1 lb; 200 N`. A point or a comma may be the decimal sign. */
import { KGF_N, LBF_N, POUND_KG } from "../../../protocol/units.ts";
import { type Failure, type FlagValues, textOf, wrongUsage } from "../command.ts";
import { argsOf, type Fields, LOAD } from "../fields.ts";
import type { PlannedLoad } from "./plan.ts";

const MASSES_KG: Readonly<Record<string, number>> = { kg: 1, g: 0.001, lb: POUND_KG };
const FORCES_N: Readonly<Record<string, number>> = { n: 1, kgf: KGF_N, lbf: LBF_N };

/** Where they hang, all alike. */
export const WHERE: Fields = { at: LOAD["at"]!, "lever-angle-deg": LOAD["lever-angle-deg"]! };

/** At least one load, or what is wrong with the words. What other flags say of loads, they say of all of them. */
export function readLoads(words: string, flags: FlagValues): readonly PlannedLoad[] | Failure {
  const tolerance = readTolerance(textOf(flags, "tolerance-percent"));
  if (typeof tolerance === "object") return tolerance;
  // Any load will do to have the verb's own schema judge where it hangs.
  const where = argsOf("calibration-check", WHERE, flags, { station: "any", force_N: 1, loading: "increasing" });
  if ("exit" in where) return where;
  const { at, lever_angle_deg } = where.args;
  const known = {
    ...(tolerance === undefined ? {} : { relative_tolerance: tolerance }),
    ...(at === undefined ? {} : { at }),
    ...(lever_angle_deg === undefined ? {} : { lever_angle_deg }),
  };
  const loads: PlannedLoad[] = [];
  // A comma parts two loads only behind a unit, so that 44,1 lb stays one.
  for (const word of words.split(/;|(?<=[a-z]\s*),/i).map((part) => part.trim())) {
    const load = readLoad(word);
    if (load === null)
      return wrongUsage(`${word === "" ? "nothing" : word} is no load: write it as 20 kg, 44.1 lb or 200 N`);
    loads.push({ ...load, request: { ...load.request, ...known } });
  }
  return loads;
}

function readLoad(word: string): PlannedLoad | null {
  const [, digits = "", unit = ""] = /^(\d+(?:[.,]\d+)?)\s*([a-z]+)$/i.exec(word) ?? [];
  const value = Number(digits.replace(",", "."));
  if (!(value > 0)) return null;
  const named = unit.toLowerCase();
  const [mass_kg, force_N] = [MASSES_KG[named], FORCES_N[named]];
  const said = `${digits} ${unit}`;
  if (mass_kg !== undefined) return { said, request: { mass_kg: value * mass_kg }, about_N: value * mass_kg * KGF_N };
  return force_N === undefined ? null : { said, request: { force_N: value * force_N }, about_N: value * force_N };
}

function readTolerance(typed: string | undefined): number | undefined | Failure {
  if (typed === undefined) return undefined;
  const percent = /^\d+([.,]\d+)?$/.test(typed) ? Number(typed.replace(",", ".")) : Number.NaN;
  if (percent <= 10) return Number(`${percent}e-2`);
  return wrongUsage(`--tolerance-percent takes 0 to 10, not ${typed}`);
}
