/**
 * What scales make of a comparison. By one calibration its error is the same on both sides and falls out; by two, the
 * uncertainty of both stands in the difference.
 */
import type { Rules } from "./rules.ts";
import type { Day } from "./series.ts";

export interface ScalePart {
  readonly calibration_changed: boolean;
  /** Expanded (k = 2), as a fraction. */
  readonly uncertainty: number;
}

export function scalePart(
  some: readonly Day[],
  others: readonly Day[],
  rules: Pick<Rules, "unknown_uncertainty">,
): ScalePart {
  const calibration_changed = new Set([...some, ...others].map(({ calibration_id }) => calibration_id)).size > 1;
  const uncertainty = calibration_changed ? Math.hypot(expanded(some, rules), expanded(others, rules)) : 0;
  return { calibration_changed, uncertainty };
}

/** Not less for a mean, since all days share the scale. */
function expanded(days: readonly Day[], { unknown_uncertainty }: Pick<Rules, "unknown_uncertainty">): number {
  return Math.max(
    ...days.map(({ expanded_uncertainty_N, best_force_N }) =>
      expanded_uncertainty_N === null || !best_force_N ? unknown_uncertainty : expanded_uncertainty_N / best_force_N,
    ),
  );
}
