/** A store with several trainees in it, one of them to be erased, and what of it must be as it was afterwards. */
import { readdirSync, readFileSync } from "node:fs";
import { basename, dirname, join } from "node:path";
import type { ErasureNotice } from "../../../recorder/care-ports.ts";
import type { Tables } from "../../../recorder/store/tables.ts";
import { instantAt, inventedLog, inventedSet, toKeep, uuidOf } from "./invented.ts";

/** T-1 is in T-10 and in XT-1: only the whole code is theirs. */
export const ERASED = "QT-1";
export const OTHERS = ["QT-10", "XQT-1", "t-02", null] as const;

export const NOTICE: ErasureNotice = {
  envelope: {
    schema_version: 1,
    at: instantAt(9999),
    clock_synced: true,
    recorder: "hall-box",
    boot: uuidOf(0xb007),
    simulated: false,
  },
  topic: "tidemark/north-hall/station/+/set",
};

/** Every second set is theirs; every tenth was theirs before an amendment, or became theirs by one. */
export function fill({ methods, database }: Tables, sets: number): void {
  database.exec("PRAGMA synchronous = OFF");
  for (let number = 1; number <= sets; number++) {
    const trainee = number % 2 === 0 ? ERASED : OTHERS[number % OTHERS.length]!;
    const station = `s-${number % 3}`;
    const performed_by = number % 7 === 0 ? ERASED : "trainer-1";
    const log = { ...inventedLog(number, 400), arm: { station, trainee, performed_by, number } };
    methods.keep(toKeep(inventedSet(number, { trainee, station }), "", log));
    const revising = { set_id: uuidOf(number), performed_by, revised_at: instantAt(number), topic: NOTICE.topic };
    if (number % 10 === 4) methods.revise({ ...revising, changes: { trainee: "QT-10" } });
    if (number % 10 === 5) methods.revise({ ...revising, changes: { trainee: ERASED } });
    if (number % 5 === 0) for (const row of methods.outbox(3)) methods.sent(row.row);
  }
  methods.saveTag({ tag: "band-1", trainee: ERASED, linked_at: instantAt(1), performed_by: "trainer-1" });
  methods.saveTag({ tag: "band-2", trainee: "QT-10", linked_at: instantAt(1), performed_by: ERASED });
  database.exec("PRAGMA synchronous = FULL");
}

/** Other people's: each set as it is published, and its readings. */
export function ofOthers({ database, methods }: Tables): readonly string[] {
  return database
    .all<{ set_id: string; message: string }>(
      `SELECT kept_set.set_id, message FROM kept_set JOIN change_log ON change_log.set_seq = kept_set.set_seq
       WHERE kept_set.trainee IS NULL OR kept_set.trainee <> ? ORDER BY first_set_seq`,
      ERASED,
    )
    .map(({ set_id, message }) => {
      const { at_us, counts } = methods.set(set_id)!.log;
      return `${message} ${Array.from(at_us).join()} ${Array.from(counts).join()}`;
    });
}

export const theirs = ({ database }: Tables): string[] =>
  database
    .all<{ set_id: string }>("SELECT set_id FROM kept_set WHERE trainee = ? ORDER BY set_id", ERASED)
    .map(({ set_id }) => set_id);

/** Names of the store's files that have the code, as a whole, anywhere in their bytes. */
export function filesWith(path: string, code: string): string[] {
  const whole = new RegExp(`(?<![A-Za-z0-9_-])${code}(?![A-Za-z0-9_-])`);
  return readdirSync(dirname(path), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && entry.name.startsWith(basename(path)))
    .map(({ parentPath, name }) => join(parentPath, name))
    .filter((file) => whole.test(readFileSync(file, "latin1")));
}
