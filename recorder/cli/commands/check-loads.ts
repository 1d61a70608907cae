/** Known loads hung to see whether a station's record still holds: guided, or by flags for a rig that hangs them itself. */
import { JSON_FLAG } from "../ask-command.ts";
import { keptSchema, newestSheet, recordInForce } from "../check-dialog/kept.ts";
import { exitOf, writeSheets } from "../check-dialog/outcome.ts";
import { checkOverService } from "../check-dialog/over-service.ts";
import { STRANGER } from "../check-dialog/visit.ts";
import { readWish, strangerToLast, WISH_FLAGS } from "../check-dialog/wish.ts";
import type { Sheet } from "../check-sheet/sheet.ts";
import { textSheet } from "../check-sheet/text-sheet.ts";
import { ask } from "../client.ts";
import { type Call, type Command, DID_NOT_HOLD, type ExitCode, type Failure } from "../command.ts";
import type { Input } from "../dialog/lines.ts";
import { readSettings, SETTINGS_FLAGS, type Settings } from "../settings.ts";

export const command: Command = {
  operands: ["STATION"],
  flags: {
    ...WISH_FLAGS,
    sheet: { value: "FILE", help: "write the sheet to print, as HTML" },
    text: { value: "FILE", help: "write the sheet as text" },
    ...JSON_FLAG,
    ...SETTINGS_FLAGS,
  },
  example: "tidemark check-loads leg-press --loads 10kg,20kg,40kg --series 3 --sheet leg-press.html",
  run: (call) => checkLoads(call, call.terminal.input()),
};

/** `input`: what somebody types, where somebody sits. */
export async function checkLoads(call: Call, input: Input): Promise<ExitCode | Failure> {
  const { flags, operands } = call;
  const station = operands[0]!;
  const last = flags["last"] === true;
  const settings = readSettings(flags);
  if ("exit" in settings) return settings;
  const stranger = last ? strangerToLast(flags) : null;
  if (stranger !== null) return stranger;
  const wish = last ? null : readWish(station, flags, settings.house);
  if (wish !== null && "exit" in wish) return wish;
  // What is kept may be read by everybody who may use the recorder at all.
  const path = wish === null ? settings.socket : settings.service_socket;
  const reply = await ask({ path, verb: "calibrations", args: { station } });
  if (!reply.ok) return reply.failure;
  const kept = keptSchema.safeParse(reply.result);
  if (!kept.success) return STRANGER;
  if (wish === null) {
    const sheet = newestSheet(kept.data);
    return sheet === null ? noRecord(station) : printLast(call, sheet, settings);
  }
  const record = recordInForce(kept.data);
  return record === null ? noRecord(station) : checkOverService({ call, station, wish, record, settings, input });
}

const noRecord = (station: string): Failure => ({
  exit: DID_NOT_HOLD,
  message: `no calibration is in force at ${station}: make one with \`tidemark calibrate ${station}\``,
});

function printLast({ flags, terminal }: Call, sheet: Sheet, { house }: Settings): ExitCode | Failure {
  const written = writeSheets(sheet, flags, house);
  if ("exit" in written) return written;
  const json = flags["json"] === true;
  const { record, check, parts } = sheet;
  const reports = parts.map(({ report }) => report);
  terminal.out(json ? JSON.stringify({ record, check, reports }) : textSheet(sheet, house));
  if (!json) for (const line of written) terminal.out(line);
  return exitOf(reports.at(-1));
}
