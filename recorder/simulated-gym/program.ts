/**
 * What a trainee means to do in a set: a round of strokes, repeated until the set is over.
 *
 * A stroke is a stretch of time with one wanted effort (0..1 of everything the trainee has) and one direction of the
 * machine. The stations with a motor set these times themselves; that is why they are fixed.
 */
import type { MuscleAction } from "../../protocol/vocabulary.ts";

export type Program =
  | { readonly style: "hold" }
  | {
      readonly style: "continuous";
      readonly concentric_s: number;
      readonly eccentric_s: number;
      /** At each end of the range the trainee lets up while the machine turns round. */
      readonly turn_s: number;
    }
  | {
      readonly style: "eccentric-only";
      readonly eccentric_s: number;
      /** The machine goes back unloaded. */
      readonly return_s: number;
    }
  | {
      readonly style: "rest-pause";
      readonly effort_s: number;
      readonly efforts_per_cluster: number;
      /** Between the efforts of a cluster. */
      readonly gap_s: number;
      /** Between clusters. */
      readonly rest_s: number;
    };

export interface Stroke {
  readonly lasts_s: number;
  /** 0: resting. */
  readonly effort: number;
  /** The direction of the machine; null: it stands or goes back unloaded. */
  readonly muscle_action: MuscleAction | null;
}

/** One round, to be repeated. A hold is one stroke without an end. */
export function strokesOf(program: Program): readonly Stroke[] {
  switch (program.style) {
    case "hold":
      return [{ lasts_s: Number.POSITIVE_INFINITY, effort: 1, muscle_action: "isometric" }];
    case "continuous":
      return [
        { lasts_s: program.concentric_s, effort: 1, muscle_action: "concentric" },
        { lasts_s: program.turn_s, effort: 0, muscle_action: "concentric" },
        { lasts_s: program.eccentric_s, effort: 1, muscle_action: "eccentric" },
        { lasts_s: program.turn_s, effort: 0, muscle_action: "eccentric" },
      ];
    case "eccentric-only":
      return [
        { lasts_s: program.eccentric_s, effort: 1, muscle_action: "eccentric" },
        { lasts_s: program.return_s, effort: 0, muscle_action: null },
      ];
    case "rest-pause": {
      const effort: Stroke = { lasts_s: program.effort_s, effort: 1, muscle_action: "concentric" };
      const pause = (lasts_s: number): Stroke => ({ lasts_s, effort: 0, muscle_action: null });
      return Array.from({ length: program.efforts_per_cluster }, (_, index) => [
        effort,
        pause(index === program.efforts_per_cluster - 1 ? program.rest_s : program.gap_s),
      ]).flat();
    }
  }
}
