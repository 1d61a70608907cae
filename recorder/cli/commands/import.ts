import { importFileResultSchema } from "../../../protocol/requests/care-results.ts";
import { askAndSay, JSON_FLAG } from "../ask-command.ts";
import { askPatiently, sayAmounts, wholePath } from "../care/moving.ts";
import type { Command } from "../command.ts";
import { BY, flagsOf } from "../fields.ts";
import { SETTINGS_FLAGS } from "../settings.ts";

export const command: Command = {
  operands: ["FILE"],
  flags: { ...flagsOf(BY), ...JSON_FLAG, ...SETTINGS_FLAGS },
  example: "tidemark import /var/lib/tidemark/t-07.jsonl",
  run: (call) =>
    askAndSay(call, {
      verb: "import",
      fields: BY,
      given: { path: wholePath(call.operands[0]) },
      result: importFileResultSchema,
      say: ({ path, imported, known, notes }) =>
        [
          `new from ${path}: ${sayAmounts(imported)}`,
          `here already: ${sayAmounts(known)}`,
          ...notes.map((note) => note.replaceAll("calibration-use", "`calibrations --use`")),
        ].join("\n"),
      ask: askPatiently,
    }),
};
