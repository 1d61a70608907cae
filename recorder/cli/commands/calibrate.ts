/** One step of a calibration, for scripts; the steps in order are begin, zero, load, accept. */
import { z } from "zod";
import type { Verb } from "../../../protocol/requests/verbs.ts";
import { askAndSay, JSON_FLAG } from "../ask-command.ts";
import { type Command, textOf, wrongUsage } from "../command.ts";
import { BY, type Fields, flagsOf, LOAD } from "../fields.ts";
import { sayField, sayName } from "../quantities.ts";
import { SETTINGS_FLAGS } from "../settings.ts";

const NOTE: Fields = {
  note: { field: "note", kind: "text", value: "TEXT", help: "kept with the record" },
  due: { field: "due", kind: "text", value: "TIME", help: "when it is to be done again, as 2027-11-24T00:00:00Z" },
};

const STEPS: Readonly<Record<string, { readonly verb: Verb; readonly fields: Fields }>> = {
  begin: { verb: "calibration-begin", fields: BY },
  zero: { verb: "calibration-zero", fields: BY },
  load: { verb: "calibration-load", fields: { ...LOAD, ...BY } },
  accept: { verb: "calibration-accept", fields: { ...NOTE, ...BY } },
  abandon: { verb: "calibration-abandon", fields: BY },
};
const NAMES = Object.keys(STEPS);

export const command: Command = {
  operands: ["STATION"],
  flags: {
    step: { value: NAMES.join("|"), help: "which step to take" },
    ...flagsOf({ ...LOAD, ...NOTE, ...BY }),
    ...JSON_FLAG,
    ...SETTINGS_FLAGS,
  },
  example: "tidemark calibrate leg-press --step load --mass-kg 20",
  run: async (call) => {
    const name = textOf(call.flags, "step") ?? "";
    const step = Object.hasOwn(STEPS, name) ? STEPS[name] : undefined;
    if (step === undefined) return wrongUsage(`--step takes one of ${NAMES.join(", ")}, in this order but for abandon`);
    const strangers = Object.keys({ ...LOAD, ...NOTE }).filter(
      (flag) => call.flags[flag] !== undefined && !(flag in step.fields),
    );
    if (strangers.length > 0) return wrongUsage(`--step ${name} does not take --${strangers.join(" or --")}`);
    return askAndSay(call, {
      ...step,
      given: { station: call.operands[0] },
      result: z.record(z.string(), z.unknown()),
      say: (result, house) => {
        const said = Object.entries(result).flatMap(([field, value]) =>
          typeof value === "object" ? [] : [`${sayName(field)} ${sayField(field, value, house)}`],
        );
        return [`${name}: done`, ...said].join("\n  ");
      },
    });
  },
};
