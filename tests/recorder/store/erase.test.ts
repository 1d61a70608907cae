import { spawn } from "node:child_process";
import { once } from "node:events";
import { createInterface } from "node:readline";
import { afterAll, beforeAll, expect, test } from "vitest";
import { openTables, type Tables } from "../../../recorder/store/tables.ts";
import { type Built, build } from "./built.ts";
import { ERASED, filesWith, fill, NOTICE, ofOthers, theirs } from "./erasing.ts";
import { inventedSet, numbers, toKeep } from "./invented.ts";
import { storePath } from "./store-path.ts";

const CHILD = "tests/recorder/store/erase-child.ts";
let built: Built;
beforeAll(() => {
  built = build(CHILD, "recorder/store/worker.ts");
}, 120_000);
afterAll(() => built.remove());

const WISH = { trainee: ERASED, ended_before: null, asked_at: NOTICE.envelope.at, performed_by: null };

/** Everything but the last step, which strikes the code off. */
function eraseAll({ methods }: Tables, erasure: number): void {
  for (let more = true; more; ) ({ more } = methods.eraseSets(erasure, NOTICE, null));
  for (let after: number | null = null; ; ) {
    ({ after } = methods.eraseClaims(erasure, after));
    if (after === null) break;
  }
  while (methods.sweep());
  for (let after: number | null = null; ; ) {
    const next = methods.eraseTraces(erasure, after);
    if (next === "busy") throw new Error("nobody else reads this file");
    if (next === null) break;
    after = next;
  }
}

function finish(tables: Tables): void {
  const { erasure } = tables.methods.beginErasure(WISH).erasure;
  eraseAll(tables, erasure);
  expect(tables.methods.endErasure(erasure, NOTICE.envelope.at)).not.toBeNull();
  while (tables.methods.sweep());
}

/** Each erased set has one row that says so, and a message for everybody in the outbox. */
function tombstones({ database, methods }: Tables): { kept: string[]; announced: string[] } {
  const kept = database.all<{ message: string }>("SELECT message FROM change_log WHERE erased = 1");
  const announced = methods.outbox(100_000).flatMap(({ payload }) => {
    const message = JSON.parse(payload) as { set_id: string; erased?: true };
    return message.erased === true ? [message.set_id] : [];
  });
  return {
    kept: kept.map(({ message }) => (JSON.parse(message) as { set_id: string }).set_id).sort(),
    announced: announced.sort(),
  };
}

test("one trainee goes, and nothing of the others changes", { timeout: 120_000 }, () => {
  const path = storePath();
  const tables = openTables(path);
  fill(tables, 1200);
  const others = ofOthers(tables);
  const gone = theirs(tables);
  expect(gone.length).toBeGreaterThan(500);
  expect(filesWith(path, ERASED)).not.toEqual([]);
  finish(tables);
  expect(ofOthers(tables)).toEqual(others);
  expect(theirs(tables)).toEqual([]);
  expect(tombstones(tables)).toEqual({ kept: gone, announced: gone });
  expect(tables.methods.tags()).toMatchObject([{ tag: "band-2", trainee: "QT-10", performed_by: null }]);
  // In no file, and in no log either, which are packed.
  expect(filesWith(path, ERASED)).toEqual([]);
  for (const { set_id } of tables.database.all<{ set_id: string }>("SELECT set_id FROM kept_set")) {
    expect(JSON.stringify(tables.methods.set(set_id)!.log.arm)).not.toContain(`"${ERASED}"`);
  }
  expect(tables.database.pragma("integrity_check")).toBe("ok");
  expect(tables.database.get("SELECT trainee, performed_by, sets FROM erasure")).toEqual({
    trainee: null,
    performed_by: null,
    sets: gone.length,
  });
  // What comes later finds pages that were cleaned under SQLite's feet as good as any.
  tables.methods.keep(toKeep(inventedSet(5000)));
  tables.methods.close();
  expect(filesWith(path, ERASED)).toEqual([]);
});

test("a page of sets tells which are gone, within the numbers it covers", () => {
  const tables = openTables(storePath());
  fill(tables, 60);
  finish(tables);
  const gone = new Set(tombstones(tables).kept);
  const seen = new Set<string>();
  for (let from_set_seq = 0; ; ) {
    const { sets, erased = [], more } = tables.methods.sets({ from_set_seq, limit: 7 });
    for (const { set_id, set_seq } of erased) {
      expect(set_seq).toBeGreaterThanOrEqual(from_set_seq);
      seen.add(set_id);
    }
    if (!more) break;
    from_set_seq = Math.max(...[...sets, ...erased].map(({ set_seq }) => set_seq)) + 1;
  }
  expect(seen).toEqual(gone);
  expect(tables.methods.sets({}).erased).toBeUndefined();
});

test("a code nobody has erases nothing, and a set that came meanwhile keeps the end off", () => {
  const tables = openTables(storePath());
  const { erasure, around } = tables.methods.beginErasure(WISH);
  expect(around).toEqual({ plans: 0, tags: [], claims: 0, running: 0 });
  expect(tables.methods.beginErasure(WISH).erasure.erasure).toBe(erasure.erasure);
  tables.methods.keep(toKeep(inventedSet(1, { trainee: ERASED })));
  expect(tables.methods.endErasure(erasure.erasure, NOTICE.envelope.at)).toBeNull();
  finish(tables);
  expect(tables.methods.erasures()).toEqual({ open: [], any: true });
});

test("sets that are too old go, but not those whose date nobody vouched for", () => {
  const tables = openTables(storePath());
  for (let number = 1; number <= 40; number++) {
    tables.methods.keep(toKeep(inventedSet(number, { clock_synced: number !== 3 })));
  }
  const ended_before = inventedSet(10).at;
  const { erasure } = tables.methods.beginErasure({ ...WISH, trainee: null, ended_before });
  const { sets, undated } = tables.methods.eraseSets(erasure.erasure, NOTICE, null);
  expect(sets.map(({ set_id }) => set_id)).toEqual(
    [1, 2, 4, 5, 6, 7, 8, 9].map((number) => inventedSet(number).set_id),
  );
  expect(undated).toBe(1);
  // The twentieth-newest.
  expect(tables.methods.newestSure()).toBe(inventedSet(21).at);
});

/** Kills it once it has said `lines` lines and `wait_ms` have gone by. */
async function killed(path: string, lines: number, spin: number): Promise<boolean> {
  const child = spawn(process.execPath, [built.file(CHILD), path, ERASED], { stdio: ["ignore", "pipe", "inherit"] });
  const reader = createInterface({ input: child.stdout! });
  let said = 0;
  reader.on("line", () => {
    said += 1;
    if (said !== lines) return;
    for (const until = performance.now() + spin; performance.now() < until; );
    child.kill("SIGKILL");
  });
  await once(child, "close");
  return child.signalCode === "SIGKILL";
}

test("killed again and again in the middle, it is gone on with and comes to its end", {
  timeout: 300_000,
}, async () => {
  const next = numbers(7);
  for (let round = 0; round < 4; round++) {
    const path = storePath();
    let tables = openTables(path);
    fill(tables, 700);
    const others = ofOthers(tables);
    const gone = theirs(tables);
    tables.methods.close();
    let deaths = 0;
    while (deaths < 6 && (await killed(path, 1 + Math.floor(next() * 4), next() * 20))) deaths += 1;
    expect(deaths).toBeGreaterThan(1);
    tables = openTables(path);
    expect(tables.database.pragma("integrity_check")).toBe("ok");
    // Half done, it is known to be.
    const half = theirs(tables).length;
    if (half > 0) expect(tables.methods.erasures().open).toMatchObject([{ trainee: ERASED }]);
    expect(tombstones(tables).kept.length).toBe(gone.length - half);
    finish(tables);
    expect(ofOthers(tables)).toEqual(others);
    expect(tombstones(tables)).toEqual({ kept: gone, announced: gone });
    expect(filesWith(path, ERASED)).toEqual([]);
    tables.methods.close();
  }
});
