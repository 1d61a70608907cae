/** Normal noise of a given standard deviation from a seed: the same readings at every run. */
export function seededNoise(seed: number): (sd: number) => number {
  let state = seed >>> 0;
  const uniform = (): number => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return (state + 0.5) / 2 ** 32;
  };
  // Box and Muller's transform.
  return (sd) => sd * Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
}
