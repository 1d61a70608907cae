/** Asks the running recorder, through its socket. */
import { randomUUID } from "node:crypto";
import { connect } from "node:net";
import type { Outcome, RequestEvent, Response } from "../../protocol/requests/response.ts";
import type { Verb } from "../../protocol/requests/verbs.ts";
import type { Refusal } from "../../protocol/vocabulary.ts";
import { createLineReader } from "../control/line-reader.ts";
import { DID_NOT_HOLD, type Failure } from "./command.ts";

export interface Question {
  readonly path: string;
  readonly verb: Verb;
  readonly args: object;
  /** Hears what comes before the answer. */
  readonly onEvent?: (event: unknown) => void;
  /** Hangs up; the answer is then an empty one. */
  readonly signal?: AbortSignal;
  /** How long nothing may be heard, ms; absent: two minutes. */
  readonly patience_ms?: number;
}

export type Reply = { readonly ok: true; readonly result: unknown } | { readonly ok: false; readonly failure: Failure };

/** Above the longest capture of a calibration, ms; a recorder that says nothing for so long will not. */
const PATIENCE_MS = 120_000;
/** Above the longest answer: a long set with its curve and its input log. */
const ANSWER_BYTES = 256 * 1024 * 1024;

export function ask({ path, verb, args, onEvent, signal, patience_ms = PATIENCE_MS }: Question): Promise<Reply> {
  return new Promise((resolve) => {
    const socket = connect(path);
    const reader = createLineReader(ANSWER_BYTES);
    const request_id = randomUUID();
    const hangUp = (): void => finish({ ok: true, result: {} });
    const finish = (reply: Reply): void => {
      // One signal may be of many questions.
      signal?.removeEventListener("abort", hangUp);
      resolve(reply);
      socket.destroy();
    };
    const fail = (message: string): void => finish({ ok: false, failure: { exit: DID_NOT_HOLD, message } });

    socket.setTimeout(patience_ms, () => fail(`tidemark did not answer in ${patience_ms / 1000} s: look at its log`));
    socket.once("connect", () => socket.write(`${JSON.stringify({ verb, request_id, ...args })}\n`));
    socket.on("data", (chunk) => {
      for (const line of reader.take(chunk)) {
        const said = line === "too-long" ? null : readAnswer(line);
        if (said === null) return fail(`what answers at ${path} is not tidemark: check the socket's path`);
        if ("event" in said) onEvent?.(said.event);
        else return finish(replyOf(said));
      }
    });
    socket.once("error", (error: NodeJS.ErrnoException) => fail(sayUnreachable(path, error.code)));
    socket.once("close", () => fail("tidemark hung up before it answered: look at its log"));
    if (signal?.aborted) hangUp();
    else signal?.addEventListener("abort", hangUp, { once: true });
  });
}

function readAnswer(line: Buffer): Response | RequestEvent | null {
  try {
    const value: unknown = JSON.parse(line.toString());
    return typeof value === "object" && value !== null && ("ok" in value || "event" in value)
      ? (value as Response | RequestEvent)
      : null;
  } catch {
    return null;
  }
}

export function replyOf(outcome: Outcome): Reply {
  if (outcome.ok) return outcome;
  return { ok: false, failure: { exit: DID_NOT_HOLD, message: sayRefusal(outcome.error), refusal: outcome.error } };
}

const sayRefusal = ({ message, hint }: Refusal): string =>
  inCommandWords(hint === undefined ? message : `${message} ${hint}`);

/** The recorder speaks of verbs and fields, which whoever sits here types in another way. */
const inCommandWords = (text: string): string =>
  text
    .replaceAll(/\bcalibration-(begin|zero|load|check|accept|abandon)\b/g, "`calibrate --step $1`")
    .replaceAll(/\bcalibration-use\b/g, "`calibrations --use`")
    .replaceAll(/\b(mass_kg|force_N)\b/g, (field) => `--${field.replace("_", "-")}`);

function sayUnreachable(path: string, code: string | undefined): string {
  switch (code) {
    case "ENOENT":
      return `tidemark is not running here (no socket at ${path}): start it with \`tidemark run\``;
    case "ECONNREFUSED":
      return `tidemark is not running here (nothing answers at ${path}): start it with \`tidemark run\``;
    case "EACCES":
    case "EPERM":
      return `this user may not use ${path}: have it added to the socket's group`;
    default:
      return `tidemark cannot be reached at ${path} (${code}): check that it runs`;
  }
}
