/** Kept sets, judged again by the engine of this program or with other settings: one, or all that fit; nothing is stored. */
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { InputLog } from "../../ports.ts";
import { JSON_FLAG } from "../ask-command.ts";
import { CHOICE_FLAGS, choosesSets, chosenSets } from "../chosen-sets.ts";
import { ask } from "../client.ts";
import { type Call, type Command, DID_NOT_HOLD, type ExitCode, type Failure, wrongUsage } from "../command.ts";
import { argsOf, flagsOf, LOSS, OPTIONS } from "../fields.ts";
import { type JudgeAgain, replayMany, withLogSchema } from "../replay-many.ts";
import { findSet } from "../set-drawn/find-set.ts";
import { OTHER_VERSION } from "../set-pages.ts";
import { sayComparison } from "../set-text.ts";
import { readSettings, SETTINGS_FLAGS, type Settings } from "../settings.ts";

export const command: Command = {
  operands: ["[SET_ID]"],
  flags: { ...CHOICE_FLAGS, ...flagsOf({ ...LOSS, ...OPTIONS }), ...JSON_FLAG, ...SETTINGS_FLAGS },
  example: "tidemark replay --trainee T-07 --station leg-press --loss 30",
  run: replay,
};

async function replay(call: Call): Promise<ExitCode | Failure> {
  const { operands, flags, terminal } = call;
  const settings = readSettings(flags);
  if ("exit" in settings) return settings;
  // The settings of a set are those of its begin, so begin's own schema judges them; the station is of no account.
  const changes = argsOf("begin", { ...LOSS, ...OPTIONS }, flags, { station: "any" });
  if ("exit" in changes) return changes;
  const { fatigue_threshold, options } = changes.args;
  const judge = async (): Promise<JudgeAgain> => {
    const { replaySet } = await import("../../run/replay.ts");
    return (kept, log) => replaySet(kept, log, { fatigue_threshold, options });
  };
  const [set_id] = operands;
  const many = choosesSets(call);
  if (set_id !== undefined && many) return wrongUsage("SET_ID is one set: leave out the flags that choose among many");
  if (set_id !== undefined) return replayOne(set_id, call, settings, judge);
  if (!many) return wrongUsage("give SET_ID, or choose sets, as in: tidemark replay --trainee T-07 --loss 30");
  const chosen = chosenSets(call, settings.house);
  if ("exit" in chosen) return chosen;
  return replayMany({ chosen, judge: await judge(), json: flags["json"] === true }, settings, terminal);
}

async function replayOne(
  typed: string,
  { flags, terminal }: Call,
  settings: Settings,
  judge: () => Promise<JudgeAgain>,
): Promise<ExitCode | Failure> {
  const found = await findSet(typed, settings.socket);
  if (!found.ok) return found.failure;
  const asked = argsOf("set", {}, flags, { set_id: found.set_id, curve: true });
  if ("exit" in asked) return asked;
  const reply = await ask({ path: settings.socket, verb: "set", args: asked.args });
  if (!reply.ok) return reply.failure;
  const kept = withLogSchema.safeParse(reply.result);
  if (!kept.success) return OTHER_VERSION;
  const { set, log } = kept.data;
  const judged = await judge();
  let again: SetMessage;
  try {
    again = judged(set, log as InputLog);
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
