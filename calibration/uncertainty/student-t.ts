/**
 * Student's t, two-sided 95 %, by degrees of freedom. From few hangings a standard deviation is itself hardly known: doubled,
 * it covers far less than 95 of 100. Values of the common tables; beyond ten degrees the tenth stands, a little too wide.
 */
const T_95 = [12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228] as const;

/** @throws RangeError below one degree of freedom. */
export function studentT95(degrees_of_freedom: number): number {
  const t = T_95[Math.min(degrees_of_freedom, T_95.length) - 1];
  if (t === undefined) throw new RangeError(`no Student's t for ${degrees_of_freedom} degrees of freedom`);
  return t;
}
