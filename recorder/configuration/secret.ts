/** Secrets come from files only, so that none stands in the configuration, on a command line or in a log. */
import { readFileSync } from "node:fs";

export type ReadSecret =
  | { readonly ok: true; readonly secret: string }
  | { readonly ok: false; readonly message: string };

/** The file's text without the line end an editor leaves. The text itself never enters a message. */
export function readSecret(path: string): ReadSecret {
  let secret: string;
  try {
    secret = readFileSync(path, "utf8").replace(/\r?\n$/, "");
  } catch (error) {
    return { ok: false, message: `names ${path}, which cannot be read (${(error as NodeJS.ErrnoException).code})` };
  }
  return secret === "" ? { ok: false, message: `names ${path}, which is empty` } : { ok: true, secret };
}
