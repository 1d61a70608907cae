/** Published values that stand in where a trainee's own record does not tell yet. Fractions. */

/**
 * What has to be exceeded to be a real difference of isometric and isokinetic strength between two days: 12 to 25 % (Sole 2007,
 * from its abstract), which is 2.77 times a typical error of 4.3 to 9.0 %. Isometric knee extension: 3.1 to 7.4 % (Isokinetics
 * and Exercise Science 2013, ies-130522). The cautious end: of nobody's steadiness more is believed than was seen.
 */
export const PUBLISHED_TYPICAL_ERROR = 0.09;
export const PUBLISHED_TYPICAL_ERROR_SOURCE =
  "Published for tests of strength on two days: real differences exceed 12 to 25 % (Sole 2007), a typical error of 4.3 to 9.0 %; the cautious end of it.";

/**
 * A fifth of the standard deviation between people (Hopkins 2000, Sports Medicine 30:1-15). Between people: 263.9 +- 44.6 N m
 * of quadriceps torque (Burnley 2009, Journal of Applied Physiology 106:975-983, abstract), 16.9 %.
 */
export const SMALLEST_WORTHWHILE_CHANGE = (0.2 * 44.6) / 263.9;
export const SMALLEST_WORTHWHILE_CHANGE_SOURCE =
  "A fifth of the standard deviation between people (Hopkins 2000), taken from quadriceps torque, 263.9 +- 44.6 N m (Burnley 2009).";
