/** A command that is one request: flags to arguments, one answer, one line saying it. */
import type { z } from "zod";
import type { Verb } from "../../protocol/requests/verbs.ts";
import { VERBS } from "../../protocol/requests/verbs.ts";
import { ask, type Question, type Reply } from "./client.ts";
import type { Call, Command, ExitCode, Failure, Flags } from "./command.ts";
import { sentencesAt } from "./dialog/wrapped.ts";
import { argsOf, type Fields, flagsOf } from "./fields.ts";
import type { House } from "./quantities.ts";
import { readSettings, SETTINGS_FLAGS } from "./settings.ts";

export const JSON_FLAG: Flags = { json: { help: "the answer as JSON, for scripts" } };

export interface Asked<S extends z.ZodType> {
  readonly verb: Verb;
  readonly fields: Fields;
  /** Fields that come from elsewhere than flags. */
  readonly given: object;
  readonly result: S;
  readonly say: (result: z.infer<S>, house: House) => string;
  /** Absent: one request, one answer. */
  readonly ask?: (question: Question) => Promise<Reply>;
}

/** Asks and says the answer. */
export async function askAndSay<S extends z.ZodType>(call: Call, asked: Asked<S>): Promise<ExitCode | Failure> {
  const { flags, terminal } = call;
  const settings = readSettings(flags);
  if ("exit" in settings) return settings;
  const read = argsOf(asked.verb, asked.fields, flags, asked.given);
  if ("exit" in read) return read;
  const path = VERBS[asked.verb].group === "service" ? settings.service_socket : settings.socket;
  const reply = await (asked.ask ?? ask)({ path, verb: asked.verb, args: read.args });
  if (!reply.ok) return reply.failure;
  const result = asked.result.safeParse(reply.result);
  // A recorder of another version may answer with more or less than we can put into words.
  const plain = flags["json"] === true || !result.success;
  terminal.out(
    plain ? JSON.stringify(reply.result) : sentencesAt(asked.say(result.data, settings.house), terminal.columns()),
  );
  return 0;
}

/** A command of one verb at one station. */
export function stationCommand<S extends z.ZodType>(
  command: { readonly example: string } & Omit<Asked<S>, "given">,
): Command {
  return {
    operands: ["STATION"],
    flags: { ...flagsOf(command.fields), ...JSON_FLAG, ...SETTINGS_FLAGS },
    example: command.example,
    run: (call) => askAndSay(call, { ...command, given: { station: call.operands[0] } }),
  };
}
