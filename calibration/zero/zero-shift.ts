/** What the tracked and the asked zero share: the shift they move, what they may ask for, and who they are told of. */
import type { AlarmCode } from "../../protocol/vocabulary.ts";
import type { Outcome } from "../outcome.ts";
import { division_N } from "../scale.ts";

export interface ZeroFacts {
  readonly calibration_id: string;
  readonly capacity_N: number;
  /** Calibrated zero and scale, of the record in force. */
  readonly zero_counts: number;
  readonly counts_per_N: number;
}

/** The part that survives a restart. */
export interface KeptZero {
  readonly calibration_id: string;
  readonly shift_counts: number;
  readonly asked_shift_counts: number;
}

/** That a confirmed zero is still to be looked into: since when, ISO 8601 UTC, and the sentence of its alarm. */
export interface ToInspect {
  readonly since: string;
  readonly detail: string;
}

/** A kept zero as a restart finds it. */
export interface FoundZero extends KeptZero {
  /** Absent: nothing is to be looked into. */
  readonly moved?: ToInspect;
}

/** Why the shift was moved: somebody asked, it followed drift, or the former one is back since a hand was on the asked one. */
export type ZeroCause = "asked" | "tracked" | "restored";

/** A still second in the making. */
export interface Asking {
  readonly request: string;
  /** Who asks: a claim; null: nobody said, or a key. */
  readonly performed_by: string | null;
  /** The offered shift it confirms, counts; null: it confirms nothing. */
  readonly confirms_counts: number | null;
  readonly asked_at_us: number;
  readonly last_us: number;
  /** Start of the still second; null: not still now. */
  readonly since_us: number | null;
  readonly sum_counts: number;
  readonly readings: number;
  readonly least_counts: number;
  readonly most_counts: number;
}

export interface Watch {
  readonly former_shift_counts: number;
  readonly former_asked_counts: number;
  readonly former_moved: ZeroShift["moved"];
  /** What the asked zero took away, N; always positive. */
  readonly moved_N: number;
  readonly until_us: number;
  readonly below_since_us: number | null;
}

/** The shift, and whatever an ordinary reading does not touch. */
export interface ZeroShift {
  /** Tracked or asked shift from the calibrated zero. */
  readonly shift_counts: number;
  /** The shift at the last asked zero. */
  readonly asked_shift_counts: number;
  readonly saved_shift_counts: number;
  /** When tracking last saved; NaN: not yet. */
  readonly tracking_saved_at_us: number;
  readonly out_of_range: boolean;
  readonly suspect: boolean;
  /** Whether the sensor was ever seen at rest at this zero, here or before a restart. */
  readonly stood: boolean;
  /** Why the alarm `zero-moved` stands: the sensor came to rest elsewhere, or a large move was asked for; null: it does not. */
  readonly moved: "stepped" | "asked" | null;
  readonly asking: Asking | null;
  /** A large shift that somebody may confirm until then. */
  readonly offer: { readonly shift_counts: number; readonly until_us: number } | null;
  readonly watch: Watch | null;
}

export interface ZeroReading {
  readonly kind: "reading";
  readonly at_us: number;
  /** After the median of three. */
  readonly counts: number;
  /** Nobody is armed or in a set. */
  readonly idle: boolean;
  readonly still: boolean;
}

export type ZeroEffect =
  | {
      readonly do: "save-zero";
      readonly zero: KeptZero;
      readonly cause: ZeroCause;
      readonly performed_by: string | null;
    }
  | {
      readonly do: "alarm";
      readonly code: AlarmCode;
      readonly on: boolean;
      readonly detail: string;
      /** It stands until somebody has looked, restarts or not; off: it was one that did. */
      readonly until_inspected?: true;
    }
  | { readonly do: "answer"; readonly request: string; readonly outcome: Outcome };

export interface ShiftStep {
  readonly held: ZeroShift;
  readonly effects: readonly ZeroEffect[];
}

export function saving(
  zero: Pick<KeptZero, "shift_counts" | "asked_shift_counts">,
  facts: ZeroFacts,
  cause: ZeroCause,
  performed_by: string | null = null,
): ZeroEffect {
  const { shift_counts, asked_shift_counts } = zero;
  const kept = { calibration_id: facts.calibration_id, shift_counts, asked_shift_counts };
  return { do: "save-zero", zero: kept, cause, performed_by };
}

/** One division of the cell, counts. */
export const dOf_counts = ({ capacity_N, counts_per_N }: ZeroFacts): number =>
  division_N(capacity_N) * Math.abs(counts_per_N);
