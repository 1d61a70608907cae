/**
 * What every step of a guided calibration needs: somebody to ask, the recorder, and the ways out. Whatever ends the visit
 * early never comes back to the step that it ends, so that steps read straight down.
 */
import { z } from "zod";
import { type Check, checkSchema } from "../../../calibration/record.ts";
import type { CalibrationBeginResult } from "../../../protocol/requests/results.ts";
import type { Verb } from "../../../protocol/requests/verbs.ts";
import type { Reply } from "../client.ts";
import { DID_NOT_HOLD, type Failure } from "../command.ts";
import type { Dialog } from "../dialog/dialog.ts";
import type { House } from "../quantities.ts";

export type Begun = CalibrationBeginResult;

export interface Visit {
  readonly station: string;
  readonly dialog: Dialog;
  readonly house: House;
  /** Asks the service at this station. */
  readonly ask: (verb: Verb, args?: object) => Promise<Reply>;
  /** Everything stays as it was. */
  readonly leave: () => Promise<never>;
  readonly fail: (failure: Failure) => Promise<never>;
}

export interface Step<S extends z.ZodType> {
  readonly instruction: string;
  readonly verb: Verb;
  readonly args: object;
  readonly result: S;
  /** What may be typed instead of taking it, beside `leave`. */
  readonly words: readonly string[];
}

export type Taken<S extends z.ZodType> =
  | { readonly is: "taken"; readonly result: z.infer<S> }
  | { readonly is: "word"; readonly word: string };

export const STRANGER: Failure = {
  exit: DID_NOT_HOLD,
  message: "The recorder answered in a way this command does not know: use the command that came with it.",
};

/** One still window. What the recorder refuses is said, and the step is offered again. */
export async function capture<S extends z.ZodType>(visit: Visit, begun: Begun, step: Step<S>): Promise<Taken<S>> {
  const { dialog } = visit;
  const words = [...step.words, "leave"];
  for (;;) {
    const word = await dialog.instruct(step.instruction, words.join(" or "));
    if (word === "leave") return visit.leave();
    if (words.includes(word)) return { is: "word", word };
    if (word !== "") {
      dialog.say(`There is nothing to do with ${word}.`);
      continue;
    }
    const reply = await dialog.reading(begun.dwell_s + begun.window_s, visit.ask(step.verb, step.args));
    if (reply.ok) {
      const result = step.result.safeParse(reply.result);
      return result.success ? { is: "taken", result: result.data } : visit.fail(STRANGER);
    }
    const { refusal, message } = reply.failure;
    // A recorder that is gone stays gone.
    if (refusal === undefined) return visit.fail(reply.failure);
    dialog.say(`  Refused. ${message}`);
    // Out of order, as after a pulled plug: what it goes on from is not there any more.
    if (refusal.code === "bad-request" && words.includes("anew")) return { is: "word", word: "anew" };
  }
}

/** What a check answers; what it says beside the check itself is a remark. */
export const checkedSchema = z.object({ ...checkSchema.shape, warnings: z.array(z.string()).optional() });

export function checkOf({ warnings: _warnings, ...check }: z.infer<typeof checkedSchema>): Check {
  return check;
}
