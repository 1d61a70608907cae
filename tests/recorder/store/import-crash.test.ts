import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { dirname, join } from "node:path";
import { createInterface } from "node:readline";
import { afterAll, beforeAll, expect, test } from "vitest";
import { openTables } from "../../../recorder/store/tables.ts";
import { type Built, build } from "./built.ts";
import { comparable, exported } from "./exported.ts";
import {
  instantAt,
  inventedCheck,
  inventedLog,
  inventedRecord,
  inventedSet,
  numbers,
  toKeep,
  uuidOf,
} from "./invented.ts";
import { storePath } from "./store-path.ts";

const CHILD = "tests/recorder/store/import-crash-child.ts";
const SETS = 400;
const ROUNDS = 12;

let built: Built;
beforeAll(() => {
  built = build(CHILD, "recorder/store/worker.ts");
}, 60_000);
afterAll(() => built.remove());

/** Runs the child, kills it after it has said so many lines (0: lets it end), and returns how many sets it said were through. */
async function importing(path: string, from: string, lines: number): Promise<number> {
  const child: ChildProcess = spawn(process.execPath, [built.file(CHILD), path, from], {
    stdio: ["ignore", "pipe", "inherit"],
  });
  let through = 0;
  let said = 0;
  const reader = createInterface({ input: child.stdout! });
  reader.on("line", (line) => {
    through = Number(line.split(" ")[1]);
    said += 1;
    if (said === lines) child.kill("SIGKILL");
  });
  await Promise.all([once(child, "close"), once(reader, "close")]);
  expect(child.signalCode).toBe(lines === 0 ? null : "SIGKILL");
  return through;
}

function filled(): { readonly file: string; readonly lines: ReturnType<typeof exported>["lines"] } {
  const path = storePath();
  const { methods, ...tables } = openTables(path);
  for (let number = 1; number <= 6; number++) {
    methods.saveCalibration(inventedRecord(number));
    methods.saveCheck(inventedCheck(number));
    methods.saveTag({ tag: `band-${number}`, trainee: "t-01", linked_at: instantAt(number), performed_by: null });
  }
  for (let number = 1; number <= SETS; number++) {
    methods.keep(toKeep(inventedSet(number), "seat=3", inventedLog(number, 100)));
    if (number % 10 !== 0) continue;
    const topic = "tidemark/north-hall/station/leg-press/set";
    const by = { performed_by: "coach-1", revised_at: instantAt(number), topic };
    methods.revise({ set_id: uuidOf(number), changes: { pain: 1 }, ...by });
  }
  const file = join(dirname(path), "all.jsonl");
  const { lines } = exported({ methods, ...tables }, file);
  methods.close();
  return { file, lines };
}

test(`an import killed ${ROUNDS} times in the middle of writing, and asked for again each time, has everything once`, {
  timeout: 300_000,
}, async () => {
  const { file, lines } = filled();
  const path = storePath();
  const next = numbers(7);
  const reached: number[] = [];
  for (let round = 0; round < ROUNDS; round++) {
    const through = await importing(path, file, 1 + Math.floor(next() * 2.5 * round + 1));
    const { methods, database, opened_with } = openTables(path);
    expect(opened_with).toBeNull();
    expect(database.pragma("integrity_check")).toBe("ok");
    const kept = database.all<{ set_id: string }>("SELECT set_id FROM kept_set ORDER BY first_set_seq");
    // From the first of the file on, without a hole, and at least as far as it said.
    expect(kept.map(({ set_id }) => set_id)).toEqual(kept.map((_, index) => uuidOf(index + 1)));
    expect(kept.length).toBeGreaterThanOrEqual(through);
    // Each with its log.
    for (const { set_id } of kept.slice(-20)) expect(methods.set(set_id)).not.toBeNull();
    reached.push(kept.length);
    methods.close();
  }
  // The trial is worth something only where it was killed on the way.
  expect(reached.filter((length) => length > 0 && length < SETS).length).toBeGreaterThan(ROUNDS / 3);
  expect(await importing(path, file, 0)).toBe(SETS);
  const tables = openTables(path);
  const again = exported(tables, join(dirname(path), "again.jsonl"));
  expect(comparable(again.lines)).toEqual(comparable(lines));
  tables.methods.close();
});
