/** What looking after the record as a whole asks of the store. Types only. */
import type { CalibrationRecord, CheckRecord } from "../calibration/record.ts";
import type { Envelope } from "../protocol/messages/parts.ts";
import type { Plan } from "../protocol/requests/plan.ts";
import type { TagLink } from "./ports.ts";

/** One revision of a set of elsewhere. `message` is the published set as JSON: it comes from another process and goes to another thread, and text does so cheaply. */
export interface RevisionToImport {
  readonly message: string;
  readonly performed_by: string | null;
  readonly revised_at: string | null;
}

export interface SetToImport {
  readonly set_id: string;
  readonly setup: string;
  /** As a store keeps it. */
  readonly log: Uint8Array;
  /** Oldest first; the last is the highest. At least one. */
  readonly revisions: readonly RevisionToImport[];
}

/** Some of a file that was checked whole before. Written in one transaction, but for calibrations, each of which has a file of its own. */
export interface ImportPiece {
  readonly calibrations: readonly CalibrationRecord[];
  readonly checks: readonly CheckRecord[];
  readonly tags: readonly TagLink[];
  readonly plans: readonly Plan[];
  readonly sets: readonly SetToImport[];
  /** Sets of the file from the first of this piece on. */
  readonly sets_left: number;
  /** `place` of the piece before; null: it is the first. */
  readonly after: number | null;
}

export const IMPORTED_KINDS = ["sets", "plans", "tags", "calibrations", "checks"] as const;
export type Amounts = Readonly<Record<(typeof IMPORTED_KINDS)[number], number>>;

export interface ImportedPiece {
  /** New here. */
  readonly imported: Amounts;
  /** Here already, and as it was. */
  readonly known: Amounts;
  /** Among those: what the file says otherwise. Sets by their id, so with records and checks; tags by their code. */
  readonly differing: readonly { readonly kind: keyof Amounts; readonly id: string }[];
  /** Among those: sets of which the file has a later revision. */
  readonly later: number;
  /** Sets that were erased here, and stay so. */
  readonly erased: number;
  /** Where the last of the sets stands in the order of this store. */
  readonly place: number | null;
}

export interface ImportStore {
  /** What is kept stays as it is; nothing is announced, and no calibration is put in force. The same piece again changes nothing. */
  importPiece(piece: ImportPiece): Promise<ImportedPiece>;
}

/** Whose sets go: all there is of one trainee, or whatever ended before an instant (ISO 8601 UTC). The other one is null. */
export interface ErasureWish {
  readonly trainee: string | null;
  readonly ended_before: string | null;
  readonly asked_at: string;
  readonly performed_by: string | null;
}

/** One that is not done yet. */
export interface Erasure extends ErasureWish {
  readonly erasure: number;
}

/** What each erased set is announced with. */
export interface ErasureNotice {
  readonly envelope: Envelope;
  /** Of `set` messages, with + in the place of the station. */
  readonly topic: string;
}

/** How far a walk has come; null: at its beginning. */
export interface ErasurePlace {
  readonly started_at_ms: number;
  readonly set_seq: number;
}

export interface ErasedSets {
  readonly sets: readonly { readonly set_id: string; readonly station: string; readonly message: string }[];
  /** Messages of theirs that had not been sent. */
  readonly outbox: number;
  /** Sets that are somebody else's by now, of which only the revisions that named them went. */
  readonly others: number;
  /** Where they were named as who did something. */
  readonly claims: number;
  /** Sets of others whose log cannot be read, so that nobody knows what it says. */
  readonly unreadable: readonly string[];
  /** Old sets whose date nobody vouched for: they stay. */
  readonly undated: number;
  readonly after: ErasurePlace | null;
  readonly more: boolean;
}

export interface ErasedClaims {
  readonly claims: number;
  readonly unreadable: readonly string[];
  /** The last log that was looked at; null: that was all. */
  readonly after: number | null;
}

export interface ErasedAround {
  readonly plans: number;
  readonly tags: readonly string[];
  readonly claims: number;
  /** What of a set that never came to its end was kept. */
  readonly running: number;
}

export interface EndedErasure extends ErasedAround {
  /** Calibrations, checks and zeros that name them as who did it, and keep that. */
  readonly claims_kept: number;
}

/**
 * An erasure is many short transactions, so that others are served between them. It is written down before the first and
 * struck off with the last: one that was broken off is among `erasures` at the next start, to be gone on with.
 */
export interface EraseStore {
  /** The same trainee again is the same erasure, as long as it is not done. What is not a set goes at once. */
  beginErasure(wish: ErasureWish): Promise<{ readonly erasure: Erasure; readonly around: ErasedAround }>;
  /** Not done yet, oldest first; and whether anything was ever erased here. */
  erasures(): Promise<{ readonly open: readonly Erasure[]; readonly any: boolean }>;
  eraseSets(erasure: number, notice: ErasureNotice, after: ErasurePlace | null): Promise<ErasedSets>;
  /** Who asked for a set is in its log: all logs are looked through, whoever's they are. */
  eraseClaims(erasure: number, after: number | null): Promise<ErasedClaims>;
  /** Cleans some pages of what moved about in them. The last one looked at; null: that was all. "busy": a reader holds them. */
  eraseTraces(erasure: number, after: number | null): Promise<number | null | "busy">;
  /** null: something of theirs was kept meanwhile, and it is to be gone on with. From then on the code is nowhere. */
  endErasure(erasure: number, done_at: string): Promise<EndedErasure | null>;
  /** Gives pages back and empties the write-ahead log; true: there is more to give back. */
  sweep(): Promise<boolean>;
  /**
   * No set that ended after this one may be taken for old: a clock that jumps must not end the record. ISO 8601 UTC; null: too
   * few sets are kept to tell.
   */
  newestSure(): Promise<string | null>;
}
