import { z } from "zod";
import { setSchema } from "../../../protocol/messages/set.ts";
import { askAndSay, JSON_FLAG } from "../ask-command.ts";
import type { Command } from "../command.ts";
import { saySet } from "../set-text.ts";
import { SETTINGS_FLAGS } from "../settings.ts";

export const command: Command = {
  operands: ["SET_ID"],
  flags: { ...JSON_FLAG, ...SETTINGS_FLAGS },
  example: "tidemark show 019ab3c0-1111-7000-8000-000000000001",
  run: (call) =>
    askAndSay(call, {
      verb: "set",
      fields: {},
      given: { set_id: call.operands[0] },
      result: z.looseObject({ set: setSchema }),
      say: ({ set }, house) => saySet(set, house),
    }),
};
