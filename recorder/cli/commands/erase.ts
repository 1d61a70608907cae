import type { z } from "zod";
import { eraseResultSchema } from "../../../protocol/requests/care-results.ts";
import { askAndSay, JSON_FLAG } from "../ask-command.ts";
import { ask } from "../client.ts";
import { type Call, type Command, DID_NOT_HOLD, type Failure, wrongUsage } from "../command.ts";
import { linesOf } from "../dialog/lines.ts";
import { BY, flagsOf } from "../fields.ts";
import { SETTINGS_FLAGS } from "../settings.ts";

/** Every log is looked through: minutes, in a record of ten years. */
const PATIENCE_MS = 3_600_000;

export const command: Command = {
  operands: ["TRAINEE"],
  flags: {
    yes: { help: "do not ask back; nothing brings them back" },
    ...flagsOf(BY),
    ...JSON_FLAG,
    ...SETTINGS_FLAGS,
  },
  example: "tidemark erase T-07 --performed-by tech-2",
  run: async (call) => {
    const trainee = call.operands[0] ?? "";
    const no = call.flags["yes"] === true ? null : await askedBack(trainee, call);
    if (no !== null) return no;
    return askAndSay(call, {
      verb: "erase",
      fields: BY,
      given: { trainee },
      result: eraseResultSchema,
      ask: (question) => ask({ ...question, patience_ms: PATIENCE_MS }),
      say: (result) => sayErased(trainee, result),
    });
  },
};

/** Why not; null: they typed the code again. A code typed wrong must not cost somebody else their record. */
async function askedBack(trainee: string, { terminal }: Call): Promise<Failure | null> {
  const input = terminal.input();
  if (input.isTTY !== true) return wrongUsage("nobody is there to ask whether this is meant; say --yes in a script");
  terminal.error(`Everything kept of ${trainee} here will be erased: sets, plans, tags. Nothing brings it back.`);
  terminal.error("Type the code again to go on; anything else leaves it all as it is:");
  const lines = linesOf(input, terminal.interrupted());
  const typed = await Promise.race([lines.next(), lines.broken.then(() => null)]);
  lines.close();
  if (typed?.trim() === trainee) return null;
  return { exit: DID_NOT_HOLD, message: "that is not the same code, so nothing was erased" };
}

function sayErased(trainee: string, result: z.infer<typeof eraseResultSchema>): string {
  const { sets, plans, tags, outbox, others, claims, still_held } = result;
  const more = [
    counted(plans, "plan"),
    counted(tags, "tag"),
    ...(outbox === 0 ? [] : [`${counted(outbox, "message")} not sent yet`]),
    ...(others === 0 ? [] : [`what they were in ${counted(others, "set")} of others`]),
    ...(claims === 0 ? [] : [`their name as who did something in ${counted(claims, "place")}`]),
  ];
  const head =
    sets + plans + tags + outbox + others + claims === 0
      ? `nothing is kept of ${trainee} here`
      : `erased of ${trainee}: ${counted(sets, "set")}, ${more.join(", ")}`;
  return [head, "what may still hold them:", ...still_held.map((sentence) => `  ${sentence}`)].join("\n");
}

const counted = (count: number, what: string): string => `${count} ${what}${count === 1 ? "" : "s"}`;
