/**
 * What can go wrong with the store, by name. A failing request rejects with a `StoreFailure`: the code is for the
 * program (raise the `storage` alarm, hold the set in memory, try again), the message is one sentence for a person.
 */

export type StoreFailureCode =
  /** No space left: nothing of the request was stored; it works again when there is space. */
  | "disk-full"
  /** The file is damaged; the next start looks at it closely and moves it aside if need be. */
  | "corrupt"
  /** The file is not where it was opened any more: what would be written to it, nobody would find. */
  | "gone"
  | "read-only"
  /** Another recorder has this file. */
  | "in-use"
  | "unopenable"
  /** Written by a newer version of this program. */
  | "newer"
  /** A database, but not one of this program. */
  | "not-ours"
  /** The storage thread died; whether the request was stored is not known, and asking again is safe. */
  | "lost"
  | "closed"
  /** What was to be stored is at fault, not the disk: it fails again however often it is tried. */
  | "unstorable"
  | "other";

export class StoreFailure extends Error {
  override readonly name = "StoreFailure";
  readonly code: StoreFailureCode;

  constructor(code: StoreFailureCode, message: string, options?: ErrorOptions) {
    super(message, options);
    this.code = code;
  }
}

// Result codes: https://www.sqlite.org/rescode.html
const ERROR = 1;
const BUSY = 5;
const LOCKED = 6;
const READONLY = 8;
const CORRUPT = 11;
const FULL = 13;
const CANTOPEN = 14;
const TOOBIG = 18;
const CONSTRAINT = 19;
const MISMATCH = 20;
const NOTADB = 26;
const IOERR_READ = 266;
const IOERR_SHORT_READ = 522;
const IOERR_SHMSIZE = 4874;
const IOERR_DATA = 8202;
const IOERR_CORRUPTFS = 8458;

const CONTENT_CODES: ReadonlySet<number> = new Set([IOERR_READ, IOERR_SHORT_READ, IOERR_DATA, IOERR_CORRUPTFS]);

/** The extended result code of an SQLite error; null for any other error. */
export function resultCode(error: unknown): number | null {
  if (!(error instanceof Error)) return null;
  const { sqliteExtendedCode, errcode } = error as { sqliteExtendedCode?: unknown; errcode?: unknown };
  const code = sqliteExtendedCode ?? errcode;
  return typeof code === "number" ? code : null;
}

/** Whether the content of the file is at fault, and not the disk, the permissions or another process. */
export function isDamage(error: unknown): boolean {
  const code = resultCode(error);
  if (code === null) return false;
  const primary = code & 0xff;
  return primary === CORRUPT || primary === NOTADB || CONTENT_CODES.has(code);
}

/** Damage as far as a first look can tell: a broken header also shows as a plain error. */
export function isDamageAtFirstLook(error: unknown): boolean {
  return isDamage(error) || resultCode(error) === ERROR;
}

/** The file can only be read, by its rights or by its header; a directory that cannot be written is another code. */
export function saysReadOnly(error: unknown): boolean {
  return resultCode(error) === READONLY;
}

/** Whether trying again is of no use. Only the store's own failures speak of the disk; any other error is of the request. */
export function isUnstorable(error: unknown): boolean {
  return !(error instanceof StoreFailure) || error.code === "unstorable";
}

/** Whether only opening the store anew can help. */
export function needsNewStart(error: unknown): boolean {
  return error instanceof StoreFailure && (error.code === "corrupt" || error.code === "gone");
}

/** Any error as a `StoreFailure`; `doing` begins the sentence, such as "cannot keep the set". */
export function failureOf(error: unknown, doing: string): StoreFailure {
  if (error instanceof StoreFailure) return error;
  const detail = error instanceof Error ? error.message : String(error);
  const [code, why] = nameOf(error, detail);
  return new StoreFailure(code, `${doing}: ${why}`, { cause: error });
}

function nameOf(error: unknown, detail: string): readonly [StoreFailureCode, string] {
  if (isDamage(error)) return ["corrupt", `the file is damaged (${detail}); restart the recorder to have it checked`];
  const code = resultCode(error);
  if (code === IOERR_SHMSIZE) return ["disk-full", "the disk is full; make space on it"];
  // Neither the database nor the system has failed: what was given cannot be written.
  if (code === null && !isSystemError(error)) return ["unstorable", detail];
  switch (code === null ? null : code & 0xff) {
    case TOOBIG:
    case CONSTRAINT:
    case MISMATCH:
      return ["unstorable", detail];
    case FULL:
      return ["disk-full", "the disk is full; make space on it"];
    case BUSY:
    case LOCKED:
      return ["in-use", "another process has locked the file; stop it first"];
    case READONLY:
      return ["read-only", "the file or its directory cannot be written; let the recorder's user write both"];
    case CANTOPEN:
      return [
        "unopenable",
        "the file cannot be opened; see that its directory exists and the recorder's user may write it",
      ];
    default:
      return ["other", detail];
  }
}

/** Of a call to the system, such as writing a file beside the store. */
const isSystemError = (error: unknown): boolean => error instanceof Error && "errno" in error;
