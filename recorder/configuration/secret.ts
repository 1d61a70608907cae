/**
 * What connections need and nobody else may see: from files, or from the environment. It stands in no configuration, on no
 * command line and in no message.
 */
import { readFileSync } from "node:fs";
import { readFile } from "node:fs/promises";

export type ReadSecret =
  | { readonly ok: true; readonly secret: string }
  | { readonly ok: false; readonly message: string };

/** Holds the broker's password where no file is named for it. */
export const PASSWORD_VARIABLE = "TIDEMARK_BROKER_PASSWORD";

/** The file's text without the line end an editor leaves. The text itself never enters a message. */
export function readSecret(path: string): ReadSecret {
  try {
    return secretIn(path, readFileSync(path, "utf8"));
  } catch (error) {
    return unreadable(path, error);
  }
}

/** The same without making anybody wait for the disk. */
export async function readSecretLater(path: string): Promise<ReadSecret> {
  try {
    return secretIn(path, await readFile(path, "utf8"));
  } catch (error) {
    return unreadable(path, error);
  }
}

function secretIn(path: string, text: string): ReadSecret {
  const secret = text.replace(/\r?\n$/, "");
  return secret === "" ? { ok: false, message: `names ${path}, which is empty` } : { ok: true, secret };
}

const unreadable = (path: string, error: unknown): ReadSecret => ({
  ok: false,
  message: `names ${sayPath(path)}, which cannot be read (${(error as NodeJS.ErrnoException).code})`,
});

/** A word without a slash may be the secret itself, written where its file is to be named. */
const sayPath = (path: string): string => (path.includes("/") ? path : "no path with a /");
