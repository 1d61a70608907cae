/** Calibrating a station: guided by a dialog, or one step at a time for scripts. */

import { instantOf } from "../../drawing/instants.ts";
import { JSON_FLAG } from "../ask-command.ts";
import { calibrateOverService } from "../calibrate-dialog/over-service.ts";
import { NOTE, STEP_FLAGS, STEP_NAMES, takeStep } from "../calibrate-dialog/steps.ts";
import { type Call, type Command, type ExitCode, type Failure, textOf, wrongUsage } from "../command.ts";
import { argsOf, BY, flagsOf } from "../fields.ts";
import { readSettings, SETTINGS_FLAGS } from "../settings.ts";

export const command: Command = {
  operands: ["STATION"],
  flags: {
    step: { value: STEP_NAMES.join("|"), help: "take this step alone; without it you are guided" },
    ...STEP_FLAGS,
    ...flagsOf({ ...NOTE, ...BY }),
    sheet: { value: "FILE", help: "guided: write the sheet to print, as HTML" },
    ...JSON_FLAG,
    ...SETTINGS_FLAGS,
  },
  example: "tidemark calibrate leg-press --performed-by tech-1 --sheet leg-press.html",
  run: async (call) => {
    const name = textOf(call.flags, "step");
    return name === undefined ? guide(call) : takeStep(call, name);
  },
};

async function guide(call: Call): Promise<ExitCode | Failure> {
  const { flags, operands } = call;
  const station = operands[0]!;
  const early = [...Object.keys(STEP_FLAGS), "json"].filter((flag) => flags[flag] !== undefined);
  if (early.length > 0) {
    return wrongUsage(`without --step you are asked for everything: leave out --${early.join(" and --")}`);
  }
  const settings = readSettings(flags);
  if ("exit" in settings) return settings;
  const due = textOf(flags, "due");
  const typed = due === undefined ? flags : { ...flags, due: instantOf(due, settings.house.time_zone, "start") };
  // The verb's own schema judges what goes into it, before anybody hangs anything.
  const read = argsOf("calibration-accept", { ...NOTE, ...BY }, typed, { station });
  if ("exit" in read) return read;
  const { note, due: until, performed_by } = read.args;
  return calibrateOverService({ call, station, settings, said: { note, due: until, performed_by } });
}
