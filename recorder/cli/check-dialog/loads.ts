/** The loads of a check: a list as people write it, `10 kg, 20 kg` or `44,1 lb; 200 N`, and what flags say of all of them. */
import { classTolerance } from "../../../calibration/procedure/mass-classes.ts";
import { type Failure, type FlagValues, textOf, wrongUsage } from "../command.ts";
import { argsOf, type Fields, LOAD } from "../fields.ts";
import { type LoadAmount, readLoads as readWords } from "../load-words.ts";
import type { PlannedLoad } from "./plan.ts";

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
  const read = readWords(words);
  if (!read.ok) return wrongUsage(read.message);
  const mass_class = textOf(flags, "mass-class");
  if (mass_class !== undefined && tolerance !== undefined) {
    return wrongUsage("give how well the loads are known once: --mass-class or --tolerance-percent");
  }
  const loads: PlannedLoad[] = [];
  for (const { said, amount, about_N } of read.loads) {
    const classed: { readonly relative_tolerance?: number } | Failure =
      mass_class === undefined ? {} : toleranceOf(mass_class, said, amount);
    if ("exit" in classed) return classed;
    loads.push({ said, request: { ...amount, ...known, ...classed }, about_N });
  }
  return loads;
}

function toleranceOf(
  mass_class: string,
  said: string,
  amount: LoadAmount,
): { readonly relative_tolerance: number } | Failure {
  if (!("mass_kg" in amount)) return wrongUsage(`--mass-class is of masses, and ${said} is a force`);
  const found = classTolerance(mass_class, amount.mass_kg);
  return found.ok ? { relative_tolerance: found.relative_tolerance } : wrongUsage(`--mass-class: ${found.message}`);
}

function readTolerance(typed: string | undefined): number | undefined | Failure {
  if (typed === undefined) return undefined;
  const percent = /^\d+([.,]\d+)?$/.test(typed) ? Number(typed.replace(",", ".")) : Number.NaN;
  if (percent <= 10) return Number(`${percent}e-2`);
  return wrongUsage(`--tolerance-percent takes 0 to 10, not ${typed}`);
}
