/** Waits for `said`, but no longer than `limit_ms`. */
export function within(limit_ms: number, said: Promise<unknown>): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, limit_ms);
    void said.then(() => {
      clearTimeout(timer);
      resolve();
    });
  });
}
