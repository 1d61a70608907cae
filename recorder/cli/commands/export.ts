import { exportResultSchema } from "../../../protocol/requests/care-results.ts";
import { askAndSay, JSON_FLAG } from "../ask-command.ts";
import { askPatiently, sayAmounts, sayBytes, wholePath } from "../care/moving.ts";
import type { Command } from "../command.ts";
import { BY, type Fields, flagsOf } from "../fields.ts";
import { SETTINGS_FLAGS } from "../settings.ts";

const FIELDS: Fields = {
  trainee: { field: "trainee", kind: "text", value: "CODE", help: "only this trainee's, with nobody else's code" },
  ...BY,
};

export const command: Command = {
  operands: ["FILE"],
  flags: { ...flagsOf(FIELDS), ...JSON_FLAG, ...SETTINGS_FLAGS },
  example: "tidemark export /var/lib/tidemark/t-07.jsonl --trainee T-07",
  run: (call) =>
    askAndSay(call, {
      verb: "export",
      fields: FIELDS,
      given: { path: wholePath(call.operands[0]) },
      result: exportResultSchema,
      say: ({ path, bytes, notes, ...amounts }) =>
        [`written to ${path} (${sayBytes(bytes)}): ${sayAmounts(amounts)}`, ...notes].join("\n"),
      ask: askPatiently,
    }),
};
