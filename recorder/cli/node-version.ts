/** The oldest Node this runs on; package.json says the same. */
const OLDEST = [20, 19] as const;

/** What is wrong with a version such as `18.20.4`, in one sentence; null: nothing. */
export function nodeVersionFault(version: string): string | null {
  const [major = 0, minor = 0] = version.split(".").map(Number);
  const oldEnough = major > OLDEST[0] || (major === OLDEST[0] && minor >= OLDEST[1]);
  return oldEnough
    ? null
    : `this is Node ${version}, and tidemark needs ${OLDEST.join(".")} or newer: install a newer one`;
}
