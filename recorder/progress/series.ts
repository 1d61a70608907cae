/** What the record gives of one kind of set, ready to be judged. Forces N, times s, fractions 0..1; null: not known. */
import type { DayAlone, Figure } from "../../protocol/requests/trend.ts";
import type { EndedBecause, Intent, Style } from "../../protocol/vocabulary.ts";

/** A day's first comparable set. */
export type Day = Readonly<DayAlone> & { readonly ended_because: EndedBecause | null };

export interface Series {
  /** Oldest first; one exercise, side, style, intent, setup and resting mode. */
  readonly days: readonly Day[];
  readonly style: Style;
  readonly intent: Intent;
  /** False where no loss means anything, as on a stack of weights. */
  readonly threshold_meant: boolean;
  /** The newest day with another setup or resting mode, and how many there are; null: none. */
  readonly other_setup: { readonly last_day: string; readonly days: number } | null;
  /**
   * Pain said after the newest day, of sets that do not compare with these: a warm-up, another side. Left out or null: none.
   * `pain` 0..10, null: no figure; `ended`: a set was ended for it.
   */
  readonly pain_since?: { readonly day: string; readonly pain: number | null; readonly ended: boolean } | null;
  /** At the station, YYYY-MM-DD. */
  readonly today: string;
  /** What the plan says for the next set; null: there is none. */
  readonly plan: { readonly fatigue_threshold: number | null; readonly rest_s: number | null } | null;
  /** Before the newest set, since the set before it; null: not known. */
  readonly rested_s: number | null;
}

/** What a stored set would have come to at another threshold; all null where it never lost so much. */
export type Figures = Readonly<Record<Figure, number | null>>;

/** A stored set to be judged again. */
export interface Replay {
  readonly set_id: string;
  readonly fatigue_threshold: number;
}

export type Replayed = ReadonlyMap<string, Figures>;

/** Under what a replay's figures are looked up. */
export const replayKey = (set_id: string, fatigue_threshold: number): string => `${set_id} at ${fatigue_threshold}`;
