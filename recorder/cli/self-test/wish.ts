/** What a self-test is asked for, from its flags. */
import type { ArgsOf } from "../../../protocol/requests/verbs.ts";
import { JSON_FLAG } from "../ask-command.ts";
import { type Failure, type Flags, type FlagValues, textOf, wrongUsage } from "../command.ts";
import { argsOf, BY, type Fields, flagsOf } from "../fields.ts";
import { SETTINGS_FLAGS } from "../settings.ts";
import type { DisplayUser } from "./at-broker.ts";

const FIELDS: Fields = {
  seconds: {
    field: "duration_s",
    kind: "number",
    value: "N",
    help: "how long each sensor is looked at, 2 to 60; else 10",
  },
  lamps: { field: "lamps", kind: "yes", help: "light both lamps for a second each" },
  ...BY,
};

export const WISH_FLAGS: Flags = {
  ...flagsOf(FIELDS),
  mains: { value: "50|60", help: "frequency of the local mains, Hz; else both are looked for" },
  "no-broker": { help: "do not look at the broker" },
  "display-username": { value: "NAME", help: "the display's user at the broker: look with its rights" },
  "display-password-file": { value: "FILE", help: "a file with that user's password" },
  ...JSON_FLAG,
  ...SETTINGS_FLAGS,
};

export interface Wish {
  /** Whatever station is asked. */
  readonly args: Omit<ArgsOf<"self-test">, "station">;
  readonly mains_Hz: 50 | 60 | undefined;
  readonly broker: boolean;
  readonly display: DisplayUser | null;
}

export function readWish(flags: FlagValues): Wish | Failure {
  const read = argsOf("self-test", FIELDS, flags, { station: "any" });
  if ("exit" in read) return read;
  const { station: _any, ...args } = read.args;
  const mains = textOf(flags, "mains");
  if (mains !== undefined && mains !== "50" && mains !== "60")
    return wrongUsage(`--mains takes 50 or 60, not ${mains}`);
  const username = textOf(flags, "display-username");
  const password_file = textOf(flags, "display-password-file");
  if (username === undefined && password_file !== undefined) {
    return wrongUsage("--display-password-file is of no use without --display-username");
  }
  return {
    args,
    mains_Hz: mains === undefined ? undefined : mains === "50" ? 50 : 60,
    broker: flags["no-broker"] !== true,
    display: username === undefined ? null : { username, password_file },
  };
}
