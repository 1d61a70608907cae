/** What the engine is told. All moments are device time in us, never decreasing; force in N with the zero removed. */
import type { EndedBecause, MuscleAction } from "../../protocol/vocabulary.ts";

export interface ReadingInput {
  readonly kind: "reading";
  readonly at_us: number;
  readonly force_N: number;
  readonly muscle_action: MuscleAction | null;
}

export type EngineInput =
  | ReadingInput
  /** Somebody asked for the end: a key, or a request with a reason. */
  | { readonly kind: "end"; readonly at_us: number; readonly because: EndedBecause | null }
  /** Take the resting force: the trainee in place and relaxed. */
  | { readonly kind: "resting"; readonly at_us: number }
  /** The load path or the sensor failed; what was measured since is no force. */
  | { readonly kind: "fault"; readonly at_us: number; readonly fault: "overload" | "sensor-fault" }
  /** The host heard nothing for as long as a gap would end the set: says the same sooner. */
  | { readonly kind: "silence"; readonly at_us: number }
  /** The recorder was restarted: whatever ran is kept as far as it got. */
  | { readonly kind: "interrupted"; readonly at_us: number };
