/** Electronics and gauges drift most in their first minutes (common practice, no source): no calibration until then. */

export const WARM_UP_US = 900_000_000;

/** Seconds of warm-up left at device time `at_us`; 0 when warm. A power-up nobody saw (null) counts as long ago. */
export function warmUpLeft_s(at_us: number, powered_up_at_us: number | null): number {
  if (powered_up_at_us === null) return 0;
  return Math.max(0, WARM_UP_US - (at_us - powered_up_at_us)) / 1e6;
}
