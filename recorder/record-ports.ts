/** What plans, and looking back on a trainee's record, ask of the store. Types only. */
import type { Plan } from "../protocol/requests/plan.ts";
import type { DayAlone } from "../protocol/requests/trend.ts";
import type { EndedBecause, Intent, Side, Style } from "../protocol/vocabulary.ts";

/** What is one series, but for the setup and the resting mode, which are those of its newest set. */
export interface SeriesKind {
  readonly exercise: string;
  readonly side: Side | null;
  readonly style: Style;
  readonly intent: Intent;
}

interface SeriesOf {
  readonly station: string;
  readonly trainee: string;
  /** Bounds of `started_at`, ISO 8601 with any offset: the first included, the second not. */
  readonly from?: string | undefined;
  readonly to?: string | undefined;
}

export interface SeriesQuery
  extends SeriesOf,
    Partial<{ readonly [K in keyof SeriesKind]: SeriesKind[K] | undefined }> {
  /** At most so many, the newest. */
  readonly limit: number;
}

/** A series that there is. */
export interface SeriesFound extends SeriesKind {
  /** null: the text of its newest set cannot be read. */
  readonly exercise_label: string | null;
  /** Canonical text of the notes; "": none. */
  readonly setup: string;
  readonly resting_subtracted: boolean;
}

export interface SeriesDaysQuery extends SeriesOf {
  readonly series: Omit<SeriesFound, "exercise_label">;
  /** IANA name: days are those of the site. */
  readonly time_zone: string;
  /** At most so many days, the newest. */
  readonly limit: number;
}

/** The first comparable set of a local day, by the order in which sets were kept. */
export interface SeriesDay extends DayAlone {
  readonly best_force_N: number;
  /** `pain` also where another set of that day here was ended for it. */
  readonly ended_because: EndedBecause | null;
}

export interface PainDay {
  /** At the site, YYYY-MM-DD. */
  readonly day: string;
  /** The highest, 0..10; null: no figure. */
  readonly pain: number | null;
  /** A set was ended for it. */
  readonly ended: boolean;
}

export interface SeriesDays {
  /** Oldest first. */
  readonly days: readonly SeriesDay[];
  /** There are earlier ones, or nobody looked farther. */
  readonly more: boolean;
  /** Days that have only sets with another setup or resting mode, as far back as was looked; null: none. */
  readonly other_setup: { readonly last_day: string; readonly days: number } | null;
  /** What was said of pain on the last day after the newest one of `days`, of any set at the station; null: nothing. */
  readonly pain_since: PainDay | null;
  /** From the end of this trainee's set before, anywhere, to the newest day's set; s. null: not known. */
  readonly rested_s: number | null;
}

/** Answers from narrow rows alone: a rotten message or log hides no day. */
export interface SeriesStore {
  /** Newest first. */
  series(query: SeriesQuery): Promise<readonly SeriesFound[]>;
  /** Costs go with `limit`, not with how long the record is. */
  seriesDays(query: SeriesDaysQuery): Promise<SeriesDays>;
}

export interface PlanToSave {
  readonly station: string;
  readonly trainee: string;
  /** ISO 8601 UTC. */
  readonly saved_at: string;
  readonly performed_by: string | null;
  /** null: there is none from now on. */
  readonly plan: Plan | null;
}

export interface PlansQuery {
  readonly station: string;
  /** Not included. */
  readonly after_trainee?: string | undefined;
}
export interface PlansPage {
  /** By trainee, at most 100 and at most 512 KiB. */
  readonly plans: readonly Plan[];
  readonly more: boolean;
}

export interface TodayQuery {
  readonly station: string;
  readonly trainee: string;
  /** Start of the local day and now, ISO 8601 UTC. */
  readonly day_starts_at: string;
  readonly now: string;
}
/** A set of today that is not void. */
export interface SetOfToday {
  readonly side: Side | null;
}

export interface PlanStore {
  savePlan(plan: PlanToSave): Promise<void>;
  /** null: there is none. */
  plan(station: string, trainee: string): Promise<Plan | null>;
  plans(query: PlansQuery): Promise<PlansPage>;
  /** This trainee's sets here today, in the order they were kept. */
  today(query: TodayQuery): Promise<readonly SetOfToday[]>;
}
