import type { z } from "zod";
import { amendResultSchema } from "../../../protocol/requests/results.ts";
import { SIDES } from "../../../protocol/vocabulary.ts";
import { askAndSay, JSON_FLAG } from "../ask-command.ts";
import { type Command, type FlagValues, textOf, wrongUsage } from "../command.ts";
import { BY, type Fields, flagsOf } from "../fields.ts";
import { type House, sayField, sayName } from "../quantities.ts";
import { findSet } from "../set-drawn/find-set.ts";
import { readSettings, SETTINGS_FLAGS } from "../settings.ts";
import { sayTable } from "../table.ts";

const FIELDS: Fields = {
  trainee: { field: "trainee", kind: "text", value: "CODE", help: "whose set it was" },
  side: { field: "side", kind: "text", value: SIDES.join("|"), help: "which side it was" },
  "warm-up": { field: "warm_up", kind: "yes", help: "it is not one to compare" },
  "not-warm-up": { field: "warm_up", kind: "no", help: "it is one to compare" },
  void: { field: "void", kind: "yes", help: "take it out of every comparison" },
  "not-void": { field: "void", kind: "no", help: "take it back into them" },
  pain: { field: "pain", kind: "number", value: "0-10", help: "as the trainee says" },
  exertion: { field: "exertion", kind: "number", value: "0-10", help: "as the trainee says" },
  note: { field: "note", kind: "text", value: "TEXT", help: "one line; no names of people" },
};
const CLEARABLE = ["trainee", "side", "pain", "exertion", "note"];

export const command: Command = {
  operands: ["SET_ID"],
  flags: {
    ...flagsOf(FIELDS),
    clear: { value: "FIELDS", help: `what is not known after all, of ${CLEARABLE.join(",")}` },
    ...flagsOf(BY),
    ...JSON_FLAG,
    ...SETTINGS_FLAGS,
  },
  example: "tidemark amend 019ab3c0-1111-7000-8000-000000000001 --pain 3 --void",
  run: async (call) => {
    const { flags } = call;
    const clear = textOf(flags, "clear")?.split(",") ?? [];
    const faulty = clashOf(flags, clear);
    if (faulty !== null) return wrongUsage(faulty);
    const settings = readSettings(flags);
    if ("exit" in settings) return settings;
    const found = await findSet(call.operands[0] ?? "", settings.socket);
    if (!found.ok) return found.failure;
    return askAndSay(call, {
      verb: "amend",
      fields: { ...FIELDS, ...BY },
      given: { set_id: found.set_id, ...Object.fromEntries(clear.map((name) => [name, null])) },
      result: amendResultSchema,
      say: sayAmended,
    });
  },
};

/** Why the flags cannot all be meant; null: they can. */
function clashOf(flags: FlagValues, clear: readonly string[]): string | null {
  const stranger = clear.find((name) => !CLEARABLE.includes(name));
  if (stranger !== undefined) return `--clear takes some of ${CLEARABLE.join(",")}, not ${stranger}`;
  const both = clear.find((name) => flags[name] !== undefined);
  if (both !== undefined) return `--${both} and --clear ${both} cannot both be meant`;
  const twice = ["void", "warm-up"].find((name) => flags[name] === true && flags[`not-${name}`] === true);
  return twice === undefined ? null : `--${twice} and --not-${twice} cannot both be meant`;
}

const SHOWN = ["trainee", "side", "warm_up", "void", "pain", "exertion", "note", "set_of_day"] as const;

function sayAmended({ set, amended }: z.infer<typeof amendResultSchema>, house: House): string {
  if (!amended) return `it was so already: ${set.set_id} stays at revision ${set.revision}`;
  const rows = SHOWN.map((name) => [sayName(name), sayField(name, set[name], house)]);
  return `${set.set_id} is at revision ${set.revision} now:\n${sayTable(rows).replaceAll(/^/gm, "  ")}`;
}
