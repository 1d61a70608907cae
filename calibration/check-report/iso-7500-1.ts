/**
 * The class limits of ISO 7500-1:2018 (force-measuring systems of testing machines), as fractions; taken from a secondary
 * source, not from the standard's own text. Only the limits are borrowed. A check with loads on a training machine is not
 * the standard's verification, and nothing here may be worded as if it were.
 */

export interface ClassLimits {
  readonly name: "0.5" | "1" | "2" | "3";
  /** Of the indication, q: either side. */
  readonly error: number;
  /** b: between the largest and the smallest q of one level. */
  readonly repeatability: number;
  /** v: either side. */
  readonly reversibility: number;
  /** f0, of the largest force: either side. */
  readonly zero_error: number;
  /** a, of the force. */
  readonly resolution: number;
  /** The lowest force of the class, in resolutions: the same limit as `resolution`, rounded by the standard. */
  readonly least_resolutions: number;
}

/** The best first. */
export const CLASSES: readonly ClassLimits[] = [
  {
    name: "0.5",
    error: 0.005,
    repeatability: 0.005,
    reversibility: 0.0075,
    zero_error: 0.0005,
    resolution: 0.0025,
    least_resolutions: 400,
  },
  {
    name: "1",
    error: 0.01,
    repeatability: 0.01,
    reversibility: 0.015,
    zero_error: 0.001,
    resolution: 0.005,
    least_resolutions: 200,
  },
  {
    name: "2",
    error: 0.02,
    repeatability: 0.02,
    reversibility: 0.03,
    zero_error: 0.002,
    resolution: 0.01,
    least_resolutions: 100,
  },
  {
    name: "3",
    error: 0.03,
    repeatability: 0.03,
    reversibility: 0.045,
    zero_error: 0.003,
    resolution: 0.015,
    least_resolutions: 67,
  },
];

/** The standard's own procedure, from memory: so many levels from 20 % of the range up, so many increasing series. */
export const OWN_PROCEDURE = { levels: 5, from_share: 0.2, series: 3 } as const;
