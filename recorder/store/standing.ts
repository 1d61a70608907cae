/** What a restart must find as it was: each station's latch, and which retained topics stand at the broker. */
import type { Latched } from "../ports.ts";
import type { Database } from "./database.ts";

export function saveInspect(database: Database, station: string, latched: Latched | null): void {
  if (latched === null) {
    database.run("DELETE FROM inspect_latch WHERE station = ?", station);
    return;
  }
  // The first overload is the one to look into; a later one before the inspection changes nothing.
  database.run(
    "INSERT INTO inspect_latch (station, since, detail) VALUES (?, ?, ?) ON CONFLICT (station) DO NOTHING",
    station,
    latched.since,
    latched.detail,
  );
}

export function inspect(database: Database, station: string): Latched | null {
  const row = database.get<Latched>("SELECT since, detail FROM inspect_latch WHERE station = ?", station);
  return row === undefined ? null : { ...row };
}

export function rememberRetained(database: Database, topic: string): void {
  database.run("INSERT INTO retained_topic (topic) VALUES (?) ON CONFLICT DO NOTHING", topic);
}

export function forgetRetained(database: Database, topic: string): void {
  database.run("DELETE FROM retained_topic WHERE topic = ?", topic);
}

export function retained(database: Database): string[] {
  return database.all<{ topic: string }>("SELECT topic FROM retained_topic ORDER BY topic").map((row) => row.topic);
}

/** Writes a row and takes it back, all the way to the disk. */
export function tryWriting(database: Database): void {
  database.transaction(() => {
    database.run("INSERT INTO retained_topic (topic) VALUES ('') ON CONFLICT DO NOTHING");
    database.run("DELETE FROM retained_topic WHERE topic = ''");
  });
}
