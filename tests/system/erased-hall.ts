/** A hall's store with several trainees in it, some of whom are to be erased, and what of it must be left as it was. */
import { createHash } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { stationTopic } from "../../protocol/messages/topics.ts";
import type { Plan } from "../../protocol/requests/plan.ts";
import type { Tables } from "../../recorder/store/tables.ts";
import { instantAt, inventedLog, inventedSet, toKeep, uuidOf } from "../recorder/store/invented.ts";

/** QT-1 is in QT-10 and in XQT-1: only the whole code is theirs. */
export const GOING = ["QT-1", "QT-2", "QT-3"] as const;
export const STAYING = ["QT-10", "XQT-1", "t-02", null] as const;
export const STATIONS = ["row", "press"] as const;

export const topicOf = (station: string): string => stationTopic("tidemark", "hall", station, "set");

export interface Filling {
  readonly sets: number;
  /** Of each set. */
  readonly readings: number;
  /** So many of the newest were not announced yet. */
  readonly unannounced: number;
}

/**
 * Three of four sets are of those who go, one each; every seventh was asked for by the first of them; every tenth became
 * theirs, or somebody else's, by an amendment. Each of them has a tag and a plan, and has linked and planned for others.
 */
export function fillHall({ methods, database }: Tables, { sets, readings, unannounced }: Filling): void {
  // Synced as a whole: how it came about is of no account here.
  database.exec("PRAGMA synchronous = OFF");
  for (let number = 1; number <= sets; number++) {
    const trainee = GOING[number % 4] ?? STAYING[(number >> 2) % STAYING.length] ?? null;
    const station = STATIONS[(number >> 2) % STATIONS.length] ?? STATIONS[0];
    const performed_by = number % 7 === 0 ? GOING[0] : "trainer-1";
    const log = { ...inventedLog(number, readings), arm: { station, trainee, performed_by, number } };
    const topic = topicOf(station);
    methods.keep({ ...toKeep(inventedSet(number, { trainee, station }), "", log), topic });
    const revising = { set_id: uuidOf(number), performed_by, revised_at: instantAt(number), topic };
    if (number % 20 === 3) methods.revise({ ...revising, changes: { trainee: GOING[1] } });
    if (number % 20 === 4) methods.revise({ ...revising, changes: { trainee: "QT-10" } });
    if (number > sets - unannounced) continue;
    for (const { row } of methods.outbox(5)) methods.sent(row);
  }
  for (const [at, trainee] of GOING.entries()) {
    methods.saveTag({ tag: `band-${at}`, trainee, linked_at: instantAt(1), performed_by: "trainer-1" });
    methods.saveTag({ tag: `strap-${at}`, trainee: "QT-10", linked_at: instantAt(1), performed_by: trainee });
    for (const [whose, performed_by] of [
      [trainee, "trainer-1"],
      [`whom-${at}`, trainee],
    ] as const) {
      const kept = { station: "row", trainee: whose, saved_at: instantAt(2), performed_by };
      methods.savePlan({ ...kept, plan: planOf(kept) });
    }
  }
  database.exec("PRAGMA synchronous = FULL");
}

/** So many sets of one trainee, all announced, and one of somebody else after every twentieth. */
export function fillFor({ methods, database }: Tables, trainee: string, sets: number): void {
  database.exec("PRAGMA synchronous = OFF");
  const keep = (number: number, whose: string): void => {
    const log = { ...inventedLog(number, 1200), arm: { station: "row", trainee: whose, performed_by: "trainer-1" } };
    methods.keep({
      ...toKeep(inventedSet(number, { trainee: whose, station: "row" }), "", log),
      topic: topicOf("row"),
    });
    for (const { row } of methods.outbox(1)) methods.sent(row);
  };
  for (let number = 1; number <= sets; number++) {
    keep(number, trainee);
    if (number % 20 === 0) keep(100_000 + number, "QT-10");
  }
  database.exec("PRAGMA synchronous = FULL");
}

const planOf = (kept: Pick<Plan, "station" | "trainee" | "saved_at" | "performed_by">): Plan => ({
  ...kept,
  sides: ["left", "right"],
  exercise: null,
  style: "hold",
  intent: null,
  fatigue_threshold: 0.4,
  setup: { seat: "4" },
  options: {},
  warm_up: null,
  rest_s: 120,
  by_side: {},
  note: null,
});

export const setsOf = ({ database }: Tables, trainee: string): string[] =>
  database
    .all<{ set_id: string }>("SELECT set_id FROM kept_set WHERE trainee = ? ORDER BY set_id", trainee)
    .map(({ set_id }) => set_id);

const going: readonly (string | null)[] = GOING;

/**
 * Of each set that stays, by its id: all that is kept of it, byte for byte. Of those that name somebody who goes, `named`: what was
 * published of them, and the readings.
 */
export function staying(tables: Tables, named: ReadonlySet<string>): ReadonlyMap<string, string> {
  const { database, methods } = tables;
  const kept = database.all<{ set_id: string; set_seq: number; trainee: string | null; first_set_seq: number }>(
    "SELECT * FROM kept_set ORDER BY first_set_seq",
  );
  return new Map(
    kept
      .filter(({ trainee }) => !going.includes(trainee))
      .map((row) => {
        const { set_id, first_set_seq, set_seq } = row;
        if (named.has(set_id)) {
          const published = database.get("SELECT message FROM change_log WHERE set_seq = ?", set_seq);
          const { at_us, counts } = methods.set(set_id)!.log;
          return [
            set_id,
            JSON.stringify([row, published, digest(`${Array.from(at_us).join()} ${Array.from(counts).join()}`)]),
          ];
        }
        const { log } = database.get<{ log: Uint8Array }>(
          "SELECT log FROM set_log WHERE first_set_seq = ?",
          first_set_seq,
        )!;
        const changes = database.all("SELECT * FROM change_log WHERE set_id = ? ORDER BY set_seq", set_id);
        return [set_id, JSON.stringify([row, changes, digest(log)])];
      }),
  );
}

const digest = (bytes: string | Uint8Array): string => createHash("sha256").update(bytes).digest("hex");

/** Sets that stay, and in whose log or revisions somebody who goes is named. */
export function naming(tables: Tables): ReadonlySet<string> {
  const { database, methods } = tables;
  const ids = database.all<{ set_id: string }>("SELECT set_id FROM kept_set").map(({ set_id }) => set_id);
  const revised = database.all<{ set_id: string; trainee: string | null; performed_by: string | null }>(
    "SELECT set_id, trainee, performed_by FROM change_log",
  );
  const by_revision = revised.filter(
    ({ trainee, performed_by }) => going.includes(trainee) || going.includes(performed_by),
  );
  const by_log = ids.filter((set_id) => {
    const arm = methods.set(set_id)!.log.arm as { trainee: string | null; performed_by: string };
    return going.includes(arm.trainee) || going.includes(arm.performed_by);
  });
  return new Set([...by_revision.map(({ set_id }) => set_id), ...by_log]);
}

/** Tags and plans of those who stay; who linked or planned is a claim, and goes where they go. */
export const aroundStaying = ({ database }: Tables): readonly object[] =>
  [
    ...database.all<{ trainee: string }>("SELECT tag, trainee, linked_at FROM tag ORDER BY tag"),
    ...database.all<{ trainee: string }>(
      "SELECT saved, station, trainee, saved_at, json_remove(plan, '$.performed_by') AS plan FROM plan ORDER BY saved",
    ),
  ].filter(({ trainee }) => !going.includes(trainee));

/** A code as a whole: not within a longer one. */
export const wholeCode = (code: string): RegExp => new RegExp(`(?<![A-Za-z0-9_.-])${code}(?![A-Za-z0-9_.-])`);

/** Files of a directory, whatever their names, that hold a code anywhere in their bytes. */
export const filesWith = (directory: string, code: string): string[] =>
  readdirSync(directory, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map(({ parentPath, name }) => join(parentPath, name))
    .filter((path) => wholeCode(code).test(readFileSync(path, "latin1")));
