import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { createInterface } from "node:readline";
import { afterAll, beforeAll, expect, test } from "vitest";
import { openTables } from "../../../recorder/store/tables.ts";
import { type Built, build } from "./built.ts";
import { inventedLog, inventedSet, numbers, plainLog } from "./invented.ts";
import { joinedParts } from "./parts-of.ts";
import { storePath } from "./store-path.ts";

const CHILD = "tests/recorder/store/crash-child.ts";
const ROUNDS = 32;

let built: Built;
beforeAll(() => {
  built = build(CHILD, "recorder/store/worker.ts");
}, 60_000);
afterAll(() => built.remove());

/** Runs the child until it has said `lines` lines, kills it at once, and returns everything it had said by then. */
async function killedAfter(lines: number, path: string, first: number): Promise<string[]> {
  const child: ChildProcess = spawn(process.execPath, [built.file(CHILD), path, String(first)], {
    stdio: ["ignore", "pipe", "inherit"],
  });
  const said: string[] = [];
  const reader = createInterface({ input: child.stdout! });
  reader.on("line", (line) => {
    said.push(line);
    if (said.length === lines) child.kill("SIGKILL");
  });
  await Promise.all([once(child, "close"), once(reader, "close")]);
  expect(child.signalCode).toBe("SIGKILL");
  return said;
}

const numberOf = (set_id: string): number => Number.parseInt(set_id.slice(-12), 16);

test(`killed ${ROUNDS} times in the middle of writing, it loses nothing it said it had`, {
  timeout: 300_000,
}, async () => {
  const path = storePath();
  const next = numbers(40);
  const told = new Map<string, number>();
  const told_parts = new Map<string, number>();
  let first = 1;
  let looked_at = 0;
  for (let round = 0; round < ROUNDS; round++) {
    const said = await killedAfter(1 + Math.floor(next() * 30), path, first);
    for (const line of said) {
      const [what, set_id, number] = line.split(" ");
      (what === "kept" ? told : told_parts).set(set_id!, Number(number));
    }
    const { database, methods, opened_with } = openTables(path);
    expect(opened_with).toBeNull();
    expect(database.pragma("integrity_check")).toBe("ok");

    const kept = methods.sets({}).sets;
    // No holes, no halves: numbers from 1 on, each set with its message, its log and its outbox row.
    const seqs = kept.map((set) => set.set_seq);
    expect(seqs).toEqual(seqs.map((_, index) => index + 1));
    const logs = database.all<{ first_set_seq: number }>("SELECT first_set_seq FROM set_log ORDER BY first_set_seq");
    expect(logs.map((row) => row.first_set_seq)).toEqual(seqs);
    expect(methods.outbox(100_000).map((row) => row.payload)).toEqual(kept.map((set) => JSON.stringify(set)));
    for (const set of kept.slice(looked_at)) {
      expect(set.best_force_N).toBe(inventedSet(numberOf(set.set_id)).best_force_N);
      expect(plainLog(methods.set(set.set_id)!.log)).toEqual(inventedLog(numberOf(set.set_id)));
    }
    looked_at = kept.length;
    for (const [set_id, set_seq] of told) {
      expect(kept[set_seq - 1]?.set_id).toBe(set_id);
    }

    // The set that was running is there with every part it was told, and none that is kept is still running.
    const running = methods.unfinished();
    const lost = [...told_parts].filter(([id]) => ![...kept, ...running].some((set) => set.set_id === id));
    expect(lost).toEqual([]);
    for (const set of running) {
      expect(kept.some((other) => other.set_id === set.set_id)).toBe(false);
      const parts = set.log.at_us.length / 60;
      expect(parts).toBeGreaterThanOrEqual(told_parts.get(set.set_id) ?? 1);
      expect(plainLog(set.log)).toEqual(joinedParts(numberOf(set.set_id), parts));
    }
    // A later round goes on with new sets; the interrupted ones stay as they are.
    first = Math.max(first, ...[...kept, ...running].map((set) => numberOf(set.set_id) + 1));
    methods.close();
  }
  expect(told.size).toBeGreaterThan(ROUNDS);
});
