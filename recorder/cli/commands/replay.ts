/** A kept set, judged again by the engine of this program with other settings; nothing is stored. */
import { z } from "zod";
import { type SetMessage, setSchema } from "../../../protocol/messages/set.ts";
import type { InputLog } from "../../ports.ts";
import { JSON_FLAG } from "../ask-command.ts";
import { ask } from "../client.ts";
import { type Call, type Command, DID_NOT_HOLD, type ExitCode, type Failure } from "../command.ts";
import { argsOf, flagsOf, LOSS, OPTIONS } from "../fields.ts";
import { sayComparison } from "../set-text.ts";
import { readSettings, SETTINGS_FLAGS } from "../settings.ts";

export const command: Command = {
  operands: ["SET_ID"],
  flags: { ...flagsOf({ ...LOSS, ...OPTIONS }), ...JSON_FLAG, ...SETTINGS_FLAGS },
  example: "tidemark replay 019ab3c0-1111-7000-8000-000000000001 --loss 30",
  run: replay,
};

const resultSchema = z.looseObject({
  set: setSchema,
  log: z.looseObject({
    arm: z.unknown(),
    at_us: z.array(z.number()),
    counts: z.array(z.number()),
    events: z.array(z.looseObject({ before: z.int(), event: z.unknown() })),
  }),
});

async function replay({ operands: [set_id], flags, terminal }: Call): Promise<ExitCode | Failure> {
  const settings = readSettings(flags);
  if ("exit" in settings) return settings;
  const asked = argsOf("set", {}, flags, { set_id, curve: true });
  if ("exit" in asked) return asked;
  // The settings of a set are those of its begin, so begin's own schema judges them; the station is of no account.
  const changes = argsOf("begin", { ...LOSS, ...OPTIONS }, flags, { station: "any" });
  if ("exit" in changes) return changes;

  const reply = await ask({ path: settings.socket, verb: "set", args: asked.args });
  if (!reply.ok) return reply.failure;
  const kept = resultSchema.safeParse(reply.result);
  if (!kept.success) {
    return {
      exit: DID_NOT_HOLD,
      message: "the recorder is of another version than this command: use the one beside it",
    };
  }
  const { set, log } = kept.data;
  const { replaySet } = await import("../../run/replay.ts");
  const { fatigue_threshold, options } = changes.args;
  let again: SetMessage;
  try {
    again = replaySet(set, log as InputLog, { fatigue_threshold, options });
  } catch (error) {
    // A plain Error is the port's way of saying that these settings make no set; any other kind is a broken program.
    if (!(error instanceof Error) || error.constructor !== Error) throw error;
    return { exit: DID_NOT_HOLD, message: error.message };
  }
  terminal.out(flags["json"] === true ? JSON.stringify(again) : sayComparison(set, again, settings.house));
  if (again.stop_reason === "on-request" && set.stop_reason !== "on-request") {
    terminal.error("mind: the record ends before these settings would have ended the set");
  }
  return 0;
}
