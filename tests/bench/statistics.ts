/** Quantiles by nearest rank: a value that was really measured. */
export function quantile(values: readonly number[], share: number): number {
  if (values.length === 0) throw new Error("nothing was measured");
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)] as number;
}

export const median = (values: readonly number[]): number => quantile(values, 0.5);

export const ratio = (value: number): string => `${value.toFixed(2)} x`;
