/** A set that no store can take, as JSON beside the store: whatever is wrong with it, what was measured is not lost. */
import { writeFile } from "node:fs/promises";
import type { SetToKeep } from "../ports.ts";

/** Returns where it is. Rejects where it cannot be written either. */
export async function putAside(store_path: string, { message, log }: SetToKeep): Promise<string> {
  const path = `${store_path}.unkept-${message.set_id}.json`;
  // Columns may be typed arrays, which JSON would write as objects.
  const columns = { ...log, at_us: Array.from(log.at_us), counts: Array.from(log.counts) };
  await writeFile(path, JSON.stringify({ message, log: columns }), { mode: 0o640, flush: true });
  return path;
}
