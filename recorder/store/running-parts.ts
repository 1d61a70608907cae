/**
 * Running sets, so that a restart can keep them as `interrupted`: what each has grown by, appended every few seconds and
 * joined again at the start. Parts of a set count up by one; the first to arrive is the first.
 */
import type { CheckpointPart, InputLog, UnfinishedSet } from "../ports.ts";
import type { Database } from "./database.ts";
import { decodeInputLog, encodeInputLog, joinInputLogs } from "./input-log.ts";

/**
 * All parts or none. A part sent again under its number takes the former's place, because a request that failed may
 * have grown since. A part of a set that is already kept came too late and is dropped: it would bring the set back.
 */
export function checkpoint(database: Database, parts: readonly CheckpointPart[]): void {
  const rows = parts.map((part) => ({ ...part, bytes: encodeInputLog(part.log) }));
  database.transaction(() => {
    for (const { set_id, part, station, bytes } of rows) {
      database.run(
        `INSERT INTO running_part (set_id, part, station, log)
         SELECT ?1, ?2, ?3, ?4 WHERE NOT EXISTS (SELECT 1 FROM kept_set WHERE set_id = ?1)
         ON CONFLICT (set_id, part) DO UPDATE SET log = excluded.log`,
        set_id,
        part,
        station,
        bytes,
      );
    }
  });
}

export function forget(database: Database, set_id: string): void {
  database.run("DELETE FROM running_part WHERE set_id = ?", set_id);
}

/**
 * Each set up to its first missing or unreadable part: joining across a hole would pretend that nothing happened there.
 * One whose first part cannot be read has nothing to begin from and is left out.
 */
export function unfinished(database: Database): UnfinishedSet[] {
  const sets = new Map<string, { station: string; next: number; logs: InputLog[] }>();
  const rows = database.all<{ set_id: string; part: number; station: string; log: Uint8Array }>(
    "SELECT set_id, part, station, log FROM running_part ORDER BY set_id, part",
  );
  for (const { set_id, part, station, log } of rows) {
    const set = sets.get(set_id) ?? { station, next: part, logs: [] };
    sets.set(set_id, set);
    const decoded = part === set.next ? decodeInputLog(log) : null;
    if (decoded?.ok !== true) continue;
    set.logs.push(decoded.log);
    set.next = part + 1;
  }
  return [...sets]
    .filter(([, set]) => set.logs.length > 0)
    .map(([set_id, { station, logs }]) => ({ set_id, station, log: joinInputLogs(logs) }));
}
