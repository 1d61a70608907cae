/** What must happen, as data; the station carries it on. */
import type { DecidedBy, EndedBecause, MuscleAction, StopReason } from "../../protocol/vocabulary.ts";

/** One effort as it stands in the record. Device time in us, forces in N, impulse in N.s. */
export interface EffortReport {
  readonly effort_number: number;
  readonly start_us: number;
  readonly end_us: number;
  readonly peak_us: number;
  readonly peak_N: number;
  readonly valley_N: number | null;
  readonly impulse_N_s: number;
  readonly muscle_action: MuscleAction | null;
  readonly floor_N: number | null;
  readonly below_floor: boolean | null;
  readonly counted: boolean;
  readonly brief: boolean;
  /** Whether it is of the kind that decides, and so compares with best and floor. */
  readonly decides: boolean;
}

/** A finished set, unrounded. Device time in us. */
export interface SetResult {
  readonly onset_us: number;
  readonly decided_us: number;
  readonly stop_reason: StopReason;
  readonly ended_because: EndedBecause | null;
  readonly reached_threshold: boolean;
  readonly duration_s: number;
  readonly time_under_tension_s: number;
  readonly best_N: number | null;
  readonly best_unconfirmed: boolean;
  readonly floor_N: number | null;
  readonly final_N: number | null;
  readonly impulse_N_s: number;
  readonly decline_per_s: number | null;
  readonly decline_per_effort: number | null;
  readonly concentric_best_N: number | null;
  readonly eccentric_best_N: number | null;
  readonly decided_by: DecidedBy;
  readonly efforts: readonly EffortReport[];
  readonly resting_N: number | null;
}

export type EngineEffect =
  | { readonly do: "phase"; readonly phase: "armed" | "working" | "resting" }
  | { readonly do: "effort"; readonly onset_us: number; readonly effort: EffortReport }
  /** Reserve has come to a quarter or less, or has recovered. */
  | { readonly do: "nearing"; readonly on: boolean }
  /** Half of the rest limit is gone. */
  | { readonly do: "rest-half" }
  /** More than half of the force went within 0.3 s under load. */
  | { readonly do: "sudden-loss" }
  /** Above, or back under, the ceiling the set was given. */
  | { readonly do: "ceiling"; readonly above: boolean }
  | { readonly do: "resting-taken"; readonly force_N: number }
  | { readonly do: "resting-refused"; readonly code: "not-still" | "out-of-range"; readonly message: string }
  /** Armed again: it was no set. */
  | { readonly do: "false-start" }
  | {
      readonly do: "disarmed";
      readonly because: "time-out" | "on-request" | "sensor-fault" | "overload" | "interrupted";
    }
  | { readonly do: "over"; readonly result: SetResult };
