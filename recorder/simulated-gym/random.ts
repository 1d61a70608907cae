/**
 * Repeatable noise, addressed by index instead of drawn in order: the same seed and index always give the same value,
 * so nothing has to carry a generator's state and a simulated second can be computed again on its own.
 *
 * The mixer is a 32-bit integer finaliser known as lowbias32 (xor-shift-multiply, 2018 [from memory]). Good enough for
 * noise, not for secrets; its moments are tested.
 */
function mix(value: number): number {
  let x = value | 0;
  x = Math.imul(x ^ (x >>> 16), 0x7feb352d);
  x = Math.imul(x ^ (x >>> 15), 0x846ca68b);
  return (x ^ (x >>> 16)) >>> 0;
}

/** Evenly distributed over 0 (included) .. 1 (excluded). */
export function uniformAt(seed: number, index: number): number {
  return mix(mix(index) ^ mix(seed ^ 0x9e3779b9)) / 2 ** 32;
}

/** Normally distributed, mean 0, standard deviation 1 (Box and Muller, 1958). */
export function normalAt(seed: number, index: number): number {
  const radius = Math.sqrt(-2 * Math.log(1 - uniformAt(seed, 2 * index)));
  return radius * Math.cos(2 * Math.PI * uniformAt(seed, 2 * index + 1));
}

/** A seed of its own for each named source of noise. */
export function seedFor(seed: number, source: string): number {
  let hash = mix(seed);
  for (let index = 0; index < source.length; index++) hash = mix(hash ^ source.charCodeAt(index));
  return hash;
}
