/** The flags of a load that need more than reading a number: its amount in words, its class. */
import { classTolerance, MASS_CLASSES } from "../../calibration/procedure/mass-classes.ts";
import { type Failure, type Flags, type FlagValues, textOf, wrongUsage } from "./command.ts";
import { LOAD_WORDS, readLoad } from "./load-words.ts";

export const LOAD_FLAGS: Flags = {
  load: {
    value: "LOAD",
    help: `what hangs in all, as "20 kg" or "44,1 lb": ${LOAD_WORDS}; 1 kgf is 9.80665 N anywhere, 1 kg what it weighs here`,
  },
  "mass-class": { value: "CLASS", help: `how well it is known, by its class: ${MASS_CLASSES.join(", ")}` },
};

/** The fields of a request they fill; none of them typed: none. */
export function readLoadFlags(flags: FlagValues): { readonly given: object } | Failure {
  const [words, mass_class, mass_kg] = [textOf(flags, "load"), textOf(flags, "mass-class"), textOf(flags, "mass-kg")];
  if (words !== undefined && (mass_kg !== undefined || flags["force-N"] !== undefined)) {
    return wrongUsage("give the load once: --load, --mass-kg or --force-N");
  }
  const read = words === undefined ? null : readLoad(words);
  if (read?.ok === false) return wrongUsage(`--load: ${read.message}`);
  const amount: { readonly mass_kg?: number; readonly force_N?: number } = read?.load.amount ?? {};
  if (mass_class === undefined) return { given: amount };
  if (flags["tolerance-percent"] !== undefined) {
    return wrongUsage("give how well the load is known once: --mass-class or --tolerance-percent");
  }
  const known_kg = amount.mass_kg ?? Number(mass_kg);
  if (!(known_kg > 0)) return wrongUsage("--mass-class is of a mass: give one with --load or --mass-kg");
  const found = classTolerance(mass_class, known_kg);
  if (!found.ok) return wrongUsage(`--mass-class: ${found.message}`);
  return { given: { ...amount, relative_tolerance: found.relative_tolerance } };
}
