/** What looking after the record as a whole asks of the store. Types only. */
import type { CalibrationRecord, CheckRecord } from "../calibration/record.ts";
import type { Plan } from "../protocol/requests/plan.ts";
import type { TagLink } from "./ports.ts";

/** One revision of a set of elsewhere. `message` is the published set as JSON: it crosses two threads, and text does so cheaply. */
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
