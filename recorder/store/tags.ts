/** Which tag stands for which trainee. A tag that is not here stands for the trainee of its own code. */
import type { TagLink, TagToSave } from "../ports.ts";
import type { Database } from "./database.ts";

const COLUMNS = "tag, trainee, linked_at, performed_by";

/** In the order of their codes. */
export function tags(database: Database): TagLink[] {
  return database.all<TagLink>(`SELECT ${COLUMNS} FROM tag ORDER BY tag`).map((row) => ({ ...row }));
}

export function tag(database: Database, code: string): TagLink | null {
  const row = database.get<TagLink>(`SELECT ${COLUMNS} FROM tag WHERE tag = ?`, code);
  return row === undefined ? null : { ...row };
}

export function saveTag(database: Database, { tag: code, trainee, linked_at, performed_by }: TagToSave): void {
  if (trainee === null) {
    database.run("DELETE FROM tag WHERE tag = ?", code);
    return;
  }
  database.run(`INSERT OR REPLACE INTO tag (${COLUMNS}) VALUES (?, ?, ?, ?)`, code, trainee, linked_at, performed_by);
}
