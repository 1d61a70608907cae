import { restoreResultSchema } from "../../../protocol/requests/care-results.ts";
import { askAndSay, JSON_FLAG } from "../ask-command.ts";
import { eitherWay } from "../care/either-way.ts";
import { wholePath } from "../care/moving.ts";
import type { Reply } from "../client.ts";
import { type Call, type Command, DID_NOT_HOLD, type Failure, type Terminal, wrongUsage } from "../command.ts";
import { dialogAt } from "../dialog/dialog.ts";
import { linesOf } from "../dialog/lines.ts";
import { BY, flagsOf } from "../fields.ts";
import { SETTINGS_FLAGS } from "../settings.ts";

export const command: Command = {
  operands: ["FILE"],
  flags: {
    yes: { help: "do not ask back, for scripts" },
    ...flagsOf(BY),
    ...JSON_FLAG,
    ...SETTINGS_FLAGS,
  },
  example: "tidemark restore /media/stick/tidemark-2026-11-27.backup",
  run: restore,
};

async function restore(call: Call) {
  const { flags, operands, terminal } = call;
  const path = wholePath(operands[0]);
  const interrupted = terminal.interrupted();
  if (flags["yes"] !== true) {
    if (terminal.columns() === null || flags["json"] === true) {
      return wrongUsage(
        "a restore puts another record in the place of the one in use: add --yes where nobody is asked",
      );
    }
    const no = await asked(path, terminal, interrupted);
    if (no !== null) return no;
  }
  const either = eitherWay(flags, async (store_path) =>
    (await import("../../run/without-recorder.ts")).restoreHere(store_path, path, interrupted),
  );
  return askAndSay(call, {
    verb: "restore",
    fields: BY,
    given: { path },
    result: restoreResultSchema,
    say: ({ sets, store, kept_aside, notes }) =>
      [
        `${path} is checked and prepared: ${sets === 1 ? "1 set" : `${sets} sets`}, under the new store id ${store}`,
        ...(kept_aside === null ? [] : [`what is in use now will be kept as ${kept_aside}`]),
        ...notes,
      ].join("\n"),
    ask: (question) => Promise.race([either({ ...question, signal: interrupted }), brokenOff(interrupted)]),
  });
}

/** Once somebody was asked, Ctrl-C ends the program no longer by itself. */
function brokenOff(interrupted: AbortSignal): Promise<Reply> {
  const message = "broken off; where a recorder runs it may still go on with it: its log says";
  const reply: Reply = { ok: false, failure: { exit: DID_NOT_HOLD, message } };
  return new Promise((resolve) => {
    if (interrupted.aborted) resolve(reply);
    else interrupted.addEventListener("abort", () => resolve(reply), { once: true });
  });
}

/** null: they want it. */
async function asked(path: string, terminal: Terminal, interrupted: AbortSignal): Promise<Failure | null> {
  const lines = linesOf(terminal.input(), interrupted);
  const feed = { hear: () => () => {}, close: () => {} };
  const dialog = dialogAt({ terminal, lines, feed, house: { unit: "N", time_zone: "UTC" } });
  dialog.say(
    `The record in ${path} takes the place of the one in use. Sets kept since that backup was made are no longer in it; what is in use now is kept beside it. The recorder ends, and begins again with it.`,
  );
  const wanted = await Promise.race([dialog.yes("Restore it?", false), lines.broken]);
  lines.close();
  return wanted === true ? null : { exit: DID_NOT_HOLD, message: "nothing was restored" };
}
