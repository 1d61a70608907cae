import { backupResultSchema } from "../../../protocol/requests/care-results.ts";
import { askAndSay, JSON_FLAG } from "../ask-command.ts";
import { eitherWay } from "../care/either-way.ts";
import { sayBytes, wholePath } from "../care/moving.ts";
import type { Call, Command } from "../command.ts";
import { BY, flagsOf } from "../fields.ts";
import { SETTINGS_FLAGS } from "../settings.ts";

export const command: Command = {
  operands: ["FILE"],
  flags: { ...flagsOf(BY), ...JSON_FLAG, ...SETTINGS_FLAGS },
  example: "tidemark backup /media/stick/tidemark-2026-11-27.backup",
  run: backup,
};

async function backup(call: Call) {
  const { flags, operands, terminal } = call;
  const path = wholePath(operands[0]);
  return askAndSay(call, {
    verb: "backup",
    fields: BY,
    given: { path },
    result: backupResultSchema,
    say: ({ bytes, sets, notes, path: at }) =>
      [`${sets === 1 ? "1 set" : `${sets} sets`} backed up in ${at} (${sayBytes(bytes)})`, ...notes].join("\n"),
    ask: eitherWay(flags, async (store_path) =>
      (await import("../../run/without-recorder.ts")).backUpHere(store_path, path, terminal.interrupted()),
    ),
  });
}
