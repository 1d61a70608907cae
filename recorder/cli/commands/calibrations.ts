import { z } from "zod";
import { calibrationUseResultSchema, importResultSchema } from "../../../protocol/requests/results.ts";
import { askAndSay, JSON_FLAG } from "../ask-command.ts";
import { sheetOfCheck } from "../check-sheet/sheet.ts";
import { textSheet } from "../check-sheet/text-sheet.ts";
import { ask } from "../client.ts";
import { type Call, type Command, type ExitCode, type Failure, textOf, wrongUsage } from "../command.ts";
import { sentencesAt } from "../dialog/wrapped.ts";
import { BY, flagsOf } from "../fields.ts";
import { compareRecords, sayComparison } from "../records/compare.ts";
import { asLines, readIn, writeOut } from "../records/files.ts";
import { askKept, findCheck, findRecord, type Kept, type KeptRecord, shortId } from "../records/kept.ts";
import { sayKept } from "../records/list.ts";
import { sayRecord } from "../records/one.ts";
import { readSettings, SETTINGS_FLAGS, type Settings } from "../settings.ts";
import { zeroPlot } from "../zero-plot.ts";
import { zeroText } from "../zero-text.ts";

/** Each asks for something else, so at most one of them. */
const WHAT = ["show", "compare", "use", "import", "zeros"] as const;

export const command: Command = {
  operands: ["STATION"],
  flags: {
    show: { value: "ID", help: "one record, or one check, in words; the first characters of its id will do" },
    compare: { value: "ID[,ID]", help: "two records side by side, or one and the one in force" },
    use: { value: "ID", help: "put a kept record in force again" },
    export: {
      value: "FILE",
      help: "write records as JSON, one a line, or the one of --show; - is the standard output",
    },
    import: { value: "FILE", help: "keep the records of a file; none is put in force by it" },
    zeros: { help: "where the zero stood over days, and why it moved" },
    svg: { value: "FILE", help: "with --zeros: as a picture in a file of its own; - is the standard output" },
    ...flagsOf(BY),
    ...JSON_FLAG,
    ...SETTINGS_FLAGS,
  },
  example: "tidemark calibrations leg-press --compare 6f2d",
  run: async (call) => {
    const settings = readSettings(call.flags);
    if ("exit" in settings) return settings;
    const asked = WHAT.filter((what) => call.flags[what] !== undefined);
    if (asked.length > 1) return wrongUsage(`--${asked.join(" and --")} are asked one at a time`);
    if (call.flags["svg"] !== undefined && !asked.includes("zeros")) return wrongUsage("--svg is for --zeros");
    if (asked.includes("import")) return importAll(call, settings);
    return ofKept(call, asked[0] ?? "list", settings);
  },
};

async function ofKept(
  call: Call,
  what: (typeof WHAT)[number] | "list",
  settings: Settings,
): Promise<ExitCode | Failure> {
  const { flags, terminal } = call;
  if (what !== "use" && flags["performed-by"] !== undefined)
    return wrongUsage("--performed-by is for --use and --import");
  if (what !== "show" && what !== "list" && flags["export"] !== undefined) {
    return wrongUsage(`--export is for the list and for --show, not for --${what}`);
  }
  const answer = await askKept(call.operands[0] as string, what === "zeros", settings);
  if (!answer.ok) return answer.failure;
  const { kept, raw } = answer;
  const say = (value: unknown, text: string): ExitCode => {
    terminal.out(flags["json"] === true ? JSON.stringify(value) : sentencesAt(text, terminal.columns()));
    return 0;
  };
  switch (what) {
    case "list": {
      const file = textOf(flags, "export");
      if (file !== undefined) return exported(file, asLines(kept.calibrations), kept.calibrations, call);
      return say(raw, sayKept(kept, settings.house, Date.now()));
    }
    case "show": {
      const id = textOf(flags, "show") ?? "";
      const found = findRecord(id, kept.calibrations);
      const checked = found.ok ? null : findCheck(id, kept);
      if (checked !== null && flags["export"] === undefined) {
        return say(checked.check, textSheet(sheetOfCheck(checked.check, checked.record), settings.house));
      }
      if (!found.ok) return found.failure;
      const { record } = found;
      const file = textOf(flags, "export");
      if (file !== undefined) return exported(file, JSON.stringify(record, null, 2), [record], call);
      return say(record, sayRecord(record, kept, settings.house));
    }
    case "compare": {
      const two = twoOf(textOf(flags, "compare") ?? "", kept);
      if ("exit" in two) return two;
      return say(compareRecords(...two), sayComparison(...two, settings.house));
    }
    case "use":
      return use(call, kept);
    default:
      return zerosOf(call, kept, settings);
  }
}

async function zerosOf({ flags, terminal }: Call, kept: Kept, { house }: Settings): Promise<ExitCode | Failure> {
  const { in_force, in_force_since, calibrations, zeros = [] } = kept;
  const record = calibrations.find(({ calibration_id }) => calibration_id === in_force) ?? calibrations[0];
  if (record === undefined) return wrongUsage("no calibration is kept for this station, so it has no zero");
  const options = { ...house, capacity_N: record.cell_capacity_N, in_force_since };
  const file = textOf(flags, "svg");
  if (file === undefined) {
    terminal.out(flags["json"] === true ? JSON.stringify({ zeros }) : zeroText(zeros, options));
    return 0;
  }
  const failure = await writeOut(file, zeroPlot(zeros, options), terminal);
  if (failure !== null) return failure;
  if (file !== "-") terminal.out(`the zero of ${record.station} in ${file}`);
  return 0;
}

type Two = readonly [KeptRecord, KeptRecord];

function twoOf(typed: string, { in_force, calibrations }: Kept): Two | Failure {
  const [first = "", second, ...more] = typed.split(",");
  if (more.length > 0) return wrongUsage("--compare takes one id or two, with a comma between them");
  const one = findRecord(first.trim(), calibrations);
  if (!one.ok) return one.failure;
  if (second === undefined && in_force === null)
    return wrongUsage("no record is in force: give two ids, with a comma between");
  const other = findRecord((second ?? in_force ?? "").trim(), calibrations);
  if (!other.ok) return other.failure;
  if (one.record === other.record) {
    return wrongUsage(`${shortId(one.record.calibration_id)} is compared with itself: give another id`);
  }
  return [one.record, other.record];
}

function use(call: Call, { calibrations }: Kept): Promise<ExitCode | Failure> | Failure {
  const found = findRecord(textOf(call.flags, "use") ?? "", calibrations);
  if (!found.ok) return found.failure;
  const { calibration_id, station } = found.record;
  return askAndSay(call, {
    verb: "calibration-use",
    fields: BY,
    given: { station, calibration_id },
    result: calibrationUseResultSchema,
    say: ({ changed, warnings, hint }) =>
      [
        changed
          ? `${calibration_id} is in force at ${station}`
          : `${calibration_id} was in force at ${station} already`,
        ...warnings,
        ...(hint === undefined ? [] : [hint]),
      ].join("\n"),
  });
}

async function exported(file: string, text: string, records: readonly KeptRecord[], call: Call) {
  if (records.length === 0) return wrongUsage("no calibration is kept for this station, so there is nothing to export");
  const failure = await writeOut(file, text, call.terminal);
  if (failure !== null) return failure;
  if (file !== "-") call.terminal.out(`${records.length === 1 ? "1 record" : `${records.length} records`} in ${file}`);
  return 0;
}

const ofStation = z.looseObject({ station: z.string(), calibration_id: z.string() });

/** Looked at before the first is sent: half of a file is no import. */
async function importAll(call: Call, settings: Settings): Promise<ExitCode | Failure> {
  const { flags, terminal } = call;
  if (flags["export"] !== undefined) return wrongUsage("--import and --export are asked one at a time");
  const station = call.operands[0] as string;
  const read = await readIn(textOf(flags, "import") ?? "");
  if ("exit" in read) return read;
  for (const document of read.documents) {
    const known = ofStation.safeParse(document);
    if (!known.success)
      return wrongUsage("the file holds something that is not a calibration record, so nothing was imported");
    if (known.data.station === station) continue;
    const whose = `${shortId(known.data.calibration_id)} is a record of ${known.data.station}, not of ${station}`;
    return wrongUsage(`${whose}, so nothing was imported`);
  }
  const by = textOf(flags, "performed-by");
  const results: z.infer<typeof importResultSchema>[] = [];
  for (const calibration of read.documents) {
    const args = { calibration, ...(by === undefined ? {} : { performed_by: by }) };
    const reply = await ask({ path: settings.service_socket, verb: "import", args });
    if (!reply.ok) {
      const before = results.length === 0 ? "" : ` (${results.length} of ${read.documents.length} were taken before)`;
      return { ...reply.failure, message: `${reply.failure.message}${before}` };
    }
    results.push(importResultSchema.parse(reply.result));
  }
  const text = results.map(({ calibration_id, imported }) =>
    imported ? `${calibration_id}: kept, not in force` : `${calibration_id}: was here already`,
  );
  terminal.out(flags["json"] === true ? JSON.stringify({ imported: results }) : text.join("\n"));
  return 0;
}
