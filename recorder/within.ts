/** Waits for `work`, but no longer than `limit_ms`; says whether it was done. Rejects as it does, while anybody waits for it. */
export function within(limit_ms: number, work: Promise<unknown>): Promise<boolean> {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => resolve(false), limit_ms);
    work.then(() => resolve(true), reject).finally(() => clearTimeout(timer));
  });
}
