/** What the core needs done for it by the world. Types, and the history of nobody, which both sides need; the adapters beside it fulfil them. */
import type { SetMessage } from "../protocol/messages/set.ts";
import type { Intent, Side, Style } from "../protocol/vocabulary.ts";
import type { CalibrationStore } from "./calibration-ports.ts";
import type { EraseStore, ImportStore } from "./care-ports.ts";
import type { PlanStore, SeriesStore } from "./record-ports.ts";

export type {
  CalibrationStore,
  CalibrationToUse,
  Imported,
  PutInForce,
  SavedZero,
  ZeroMoved,
} from "./calibration-ports.ts";

/**
 * The engine's inputs of one set, as kept: readings in columns, everything else as events between them.
 * `at_us` is device time, never decreasing; an event stands before the reading of index `before`.
 * `arm` and each `event` are JSON values whose shape belongs to the station room.
 */
export interface InputLog {
  readonly arm: unknown;
  readonly at_us: ArrayLike<number>;
  readonly counts: ArrayLike<number>;
  readonly events: readonly { readonly before: number; readonly event: unknown }[];
}

/** A set to keep. `message.set_seq` is 0: the store gives the number, in the same transaction as log and outbox row. */
export interface SetToKeep {
  readonly message: SetMessage;
  readonly log: InputLog;
  readonly setup: string;
  /** Topic of the `set` message; its payload is the message's JSON with the number filled in. */
  readonly topic: string;
}

/** What somebody, or the recorder itself, sets right in a kept set: a new revision over the highest one. */
export interface Revising {
  readonly set_id: string;
  /** Its own numbers and its station stay what they are, whatever stands here. */
  readonly changes: Partial<SetMessage>;
  /** Who says so: a claim; null: nobody said, or the recorder itself. */
  readonly performed_by: string | null;
  /** When, ISO 8601 UTC. `at` of a set stays the moment it ended. */
  readonly revised_at: string;
  /** Topic of the `set` message, as for a set to keep. */
  readonly topic: string;
}

/** What the record held of a trainee when a kept set of this station began. */
export interface BeforeQuery {
  readonly set_id: string;
  readonly trainee: string;
  readonly side: Side | null;
  /** Start of the local day of the set, ISO 8601 UTC. */
  readonly day_starts_at: string;
}
export type Before = Pick<History, "today_best_force_N" | "set_of_day" | "last_set_ended_at">;

/** A tag that stands for another code than its own. */
export interface TagLink {
  readonly tag: string;
  readonly trainee: string;
  /** ISO 8601 UTC. */
  readonly linked_at: string;
  readonly performed_by: string | null;
}

/** `trainee` null: the tag stands for its own code from now on. */
export type TagToSave = Omit<TagLink, "trainee"> & { readonly trainee: string | null };

/**
 * What a running set has grown by since its last checkpoint. The first part of a set carries `arm`. Parts count up by one;
 * after a checkpoint that failed the same number is sent again, grown. An event's `before` counts within the part.
 */
export interface CheckpointPart {
  readonly set_id: string;
  readonly station: string;
  readonly part: number;
  readonly log: InputLog;
}

/** A set that was running when the recorder went away: its parts, joined in order up to the first that is missing. */
export interface UnfinishedSet {
  readonly set_id: string;
  readonly station: string;
  readonly log: InputLog;
}

export interface SetsQuery {
  readonly station?: string | undefined;
  readonly trainee?: string | undefined;
  readonly side?: Side | undefined;
  readonly style?: Style | undefined;
  readonly exercise?: string | undefined;
  /** Included. */
  readonly from_set_seq?: number | undefined;
  /** Not included. */
  readonly before_set_seq?: number | undefined;
  /** Bounds of `started_at`, ISO 8601 with any offset: the first included, the second not. */
  readonly from?: string | undefined;
  readonly to?: string | undefined;
  /** At most 10,000, which is also what is meant without one. */
  readonly limit?: number | undefined;
}

export interface SetsPage {
  readonly store: string;
  /** The first and last number of the whole change log, whatever was asked for; null: it is empty. */
  readonly first_set_seq: number | null;
  readonly last_set_seq: number | null;
  /** Others fit as well and are not in this page: later ones with `from_set_seq`, without it earlier ones. */
  readonly more: boolean;
  /** Highest revision of each set, by `set_seq`. Without `from_set_seq`: the newest ones. At most 512 KiB, which may be fewer than `limit`. */
  readonly sets: readonly SetMessage[];
  /**
   * Only with `from_set_seq`: sets that were erased, of all stations and trainees whatever was asked for, within the numbers this
   * page covers; at most 1,000. Where there is `more`, go on behind the highest `set_seq` of both lists.
   */
  readonly erased?: readonly ErasedSet[];
}

/** `set_seq` is the erasure's own. */
export interface ErasedSet {
  readonly set_id: string;
  readonly set_seq: number;
}

/** What `begin` asks the record. Comparable: all of these equal, not warm-up, void or cut short. */
export interface HistoryQuery {
  readonly station: string;
  readonly trainee: string | null;
  readonly exercise: string;
  readonly side: Side | null;
  readonly style: Style;
  readonly intent: Intent;
  readonly setup: string;
  readonly resting_subtracted: boolean;
  /** Start of the local day and now, ISO 8601 UTC. */
  readonly day_starts_at: string;
  readonly now: string;
}

export interface History {
  /** The newest comparable set, or null. */
  readonly comparable: SetMessage | null;
  /** The highest best of today's comparable sets, N. */
  readonly today_best_force_N: number | null;
  /** Sets of this trainee at this station, whatever they were. */
  readonly sets_here: number;
  readonly eccentric_sets_here: number;
  /** 1 for the first set of this trainee at this station today; warm-ups and void sets are not counted. null: not known. */
  readonly set_of_day: number | null;
  /** End of this trainee's newest set anywhere (its `at`), or null. */
  readonly last_set_ended_at: string | null;
}

/** What is known of nobody, or of somebody whose record cannot be read. */
export const NO_HISTORY: History = {
  comparable: null,
  today_best_force_N: null,
  sets_here: 0,
  eccentric_sets_here: 0,
  set_of_day: null,
  last_set_ended_at: null,
};

export interface OutboxRow {
  readonly row: number;
  readonly station: string;
  readonly topic: string;
  /** UTF-8 JSON, byte-equal at every sending. */
  readonly payload: string;
}

/** A load path that saw too much force is out of use until somebody has looked at it, restarts or not. */
export interface Latched {
  /** ISO 8601 UTC. */
  readonly since: string;
  /** One sentence. */
  readonly detail: string;
}

/**
 * Every method rejects with a `StoreFailure` (store/failure.ts), whose code tells a full disk from a damaged file. Requests
 * are carried out in the order they were made, and one that changes something resolves only once it is on the disk.
 */
export interface Store extends CalibrationStore, ImportStore, EraseStore, PlanStore, SeriesStore {
  /** UUID of the database file. */
  readonly store_id: string;
  /** What happened at opening that a person must know, such as a corrupt file moved aside; null: nothing. */
  readonly opened_with: string | null;
  /** The same `set_id` and `revision` again changes nothing and answers with the first. The log of a set is its first one's. */
  keep(set: SetToKeep): Promise<SetMessage>;
  checkpoint(parts: readonly CheckpointPart[]): Promise<void>;
  /** A checkpointed set that came to nothing (false start, disarmed). */
  forget(set_id: string): Promise<void>;
  unfinished(): Promise<readonly UnfinishedSet[]>;
  sets(query: SetsQuery): Promise<SetsPage>;
  set(set_id: string): Promise<{ readonly message: SetMessage; readonly log: InputLog } | null>;
  latest(station: string): Promise<SetMessage | null>;
  history(query: HistoryQuery): Promise<History>;
  /**
   * Lays changes over the highest revision: the next revision, a `set_seq` of its own, and the outbox row, in one
   * transaction. Where nothing differs it answers with the highest as it is, and nothing is written. null: no such set.
   */
  revise(revising: Revising): Promise<SetMessage | null>;
  /** null: no such set. Only sets kept before it and ended before it began are looked at, as they stand now. */
  before(query: BeforeQuery): Promise<Before | null>;
  /** By tag. */
  tags(): Promise<readonly TagLink[]>;
  /** null: not linked. */
  tag(tag: string): Promise<TagLink | null>;
  saveTag(tag: TagToSave): Promise<void>;
  /** Oldest first, at most `limit` of each station. */
  outbox(limit: number): Promise<readonly OutboxRow[]>;
  /** The broker said yes. */
  sent(row: number): Promise<void>;
  outboxSize(): Promise<number>;
  /** The latch of a load path that was overloaded; null: it was inspected. */
  saveInspect(station: string, latched: Latched | null): Promise<void>;
  inspect(station: string): Promise<Latched | null>;
  /** Retained topics we have ever set and not cleared. */
  rememberRetained(topic: string): Promise<void>;
  forgetRetained(topic: string): Promise<void>;
  retained(): Promise<readonly string[]>;
  /** Changes nothing; resolves when the disk takes a writing. */
  tryWriting(): Promise<void>;
  close(): Promise<void>;
}
