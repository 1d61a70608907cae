/** Kept sets, chosen: as a list, as tables in files, as the sheet of a visit. */
import { z } from "zod";
import { setSchema } from "../../../protocol/messages/set.ts";
import { JSON_FLAG } from "../ask-command.ts";
import { CHOICE_FLAGS, type Chosen, chosenSets } from "../chosen-sets.ts";
import { type Call, type Command, type ExitCode, type Failure, type Flags, textOf, wrongUsage } from "../command.ts";
import { DECIMAL_COMMA, RFC_4180 } from "../csv/record.ts";
import { EFFORTS_TABLE, SETS_TABLE } from "../csv/set-columns.ts";
import { type TableFile, writeTables } from "../csv/write-tables.ts";
import { sentencesAt } from "../dialog/wrapped.ts";
import { askForNewest } from "../set-pages.ts";
import { saySets } from "../sets-text.ts";
import { readSettings, SETTINGS_FLAGS, type Settings } from "../settings.ts";
import { writeVisitSheet } from "../visit-sheet/write.ts";

const FILES: Flags = {
  csv: {
    value: "FILE",
    help:
      "all that fit as a table after RFC 4180, one row a set; - is the standard output. A text that a spreadsheet would " +
      "take for a formula gets an apostrophe before it",
  },
  "csv-efforts": { value: "FILE", help: "the same of their efforts, one row an effort" },
  "decimal-comma": {
    help: "tables for spreadsheets in languages that write 0,5: decimal commas, semicolons, a byte order mark",
  },
  sheet: {
    value: "FILE",
    help: "the sheet of a visit, to print and hand over, as HTML: all sets of --trainee of --day, else of today",
  },
};

export const command: Command = {
  operands: [],
  flags: {
    ...CHOICE_FLAGS,
    limit: { value: "N", help: "at most so many, the newest; else 20, in tables all" },
    ...FILES,
    ...JSON_FLAG,
    ...SETTINGS_FLAGS,
  },
  example: "tidemark sets --trainee T-07 --from 2026-11-01",
  run: sets,
};

/** The newest sets are looked at, not read through. */
const LISTED = 20;

async function sets(call: Call): Promise<ExitCode | Failure> {
  const { flags } = call;
  const settings = readSettings(flags);
  if ("exit" in settings) return settings;
  const tables = tablesOf(call);
  const what = [
    ...(flags["json"] === true ? ["--json"] : []),
    ...(tables.length > 0 ? ["--csv"] : []),
    ...(flags["sheet"] === undefined ? [] : ["--sheet"]),
  ];
  if (what.length > 1) return wrongUsage(`${what.join(" and ")} are asked one at a time`);
  if (flags["decimal-comma"] === true && tables.length === 0) {
    return wrongUsage("--decimal-comma is for --csv and --csv-efforts");
  }
  const chosen = chosenSets(call, settings.house);
  if ("exit" in chosen) return chosen;
  const sheet = textOf(flags, "sheet");
  if (sheet !== undefined) return writeVisitSheet(sheet, call, settings);
  if (tables.length === 0) return list(call, chosen, settings);
  if (tables.length > 1 && tables.every(({ file }) => file === "-")) {
    return wrongUsage("--csv and --csv-efforts both to the standard output would make a table of neither: name a file");
  }
  const form = flags["decimal-comma"] === true ? DECIMAL_COMMA : RFC_4180;
  return writeTables(tables, form, chosen, settings, call.terminal);
}

function tablesOf({ flags }: Call): readonly TableFile[] {
  const sets_file = textOf(flags, "csv");
  const efforts_file = textOf(flags, "csv-efforts");
  return [
    ...(sets_file === undefined ? [] : [{ table: SETS_TABLE, file: sets_file, rows: "set" } as const]),
    ...(efforts_file === undefined ? [] : [{ table: EFFORTS_TABLE, file: efforts_file, rows: "effort" } as const]),
  ];
}

const pageSchema = z.looseObject({ more: z.boolean().optional(), sets: z.array(setSchema) });

async function list(
  { flags, terminal }: Call,
  { args, limit }: Chosen,
  settings: Settings,
): Promise<ExitCode | Failure> {
  const asked = { ...args, limit: limit ?? LISTED };
  const reply = await askForNewest({ path: settings.socket, verb: "sets", args: asked });
  if (!reply.ok) return reply.failure;
  const page = pageSchema.safeParse(reply.result);
  // A recorder of another version may answer with more or less than we can put into words.
  if (flags["json"] === true || !page.success) terminal.out(JSON.stringify(reply.result));
  else if (page.data.sets.length === 0) terminal.out("no set is kept yet that fits");
  else {
    terminal.out(sentencesAt(saySets(page.data.sets, settings.house), terminal.columns()));
    // Beside the list, so that a pipe has the list alone.
    if (page.data.more === true)
      terminal.error(`there are earlier ones that fit: --limit ${2 * asked.limit} shows more`);
  }
  return 0;
}
