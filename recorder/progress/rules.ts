/** Every cut-off of the judgement. */
export interface Rules {
  readonly smallest_worthwhile_change: number;
}
export const DEFAULT_RULES: Rules = { smallest_worthwhile_change: 0.0338 };
