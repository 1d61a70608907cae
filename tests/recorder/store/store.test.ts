import { execFileSync } from "node:child_process";
import { once } from "node:events";
import { existsSync, writeFileSync } from "node:fs";
import { Worker } from "node:worker_threads";
import { afterAll, beforeAll, describe, expect, onTestFinished, test } from "vitest";
import type { Store } from "../../../recorder/ports.ts";
import type { StoreFailure } from "../../../recorder/store/failure.ts";
import { connectStore, openStore } from "../../../recorder/store/store.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { type Built, build } from "./built.ts";
import {
  instantAt,
  inventedCheck,
  inventedLog,
  inventedRecord,
  inventedSet,
  plainLog,
  toKeep,
  uuidOf,
} from "./invented.ts";
import { joinedParts, partOf } from "./parts-of.ts";
import { storePath } from "./store-path.ts";

const SMALL_DISK = "tests/recorder/store/small-disk-worker.ts";

let built: Built;
beforeAll(() => {
  built = build(SMALL_DISK, "recorder/store/store.ts", "recorder/store/worker.ts");
}, 60_000);
afterAll(() => built.remove());

/** The proxy in front of the compiled thread, which starts in a tenth of the time the sources take. */
const connected = (path: string): Promise<Store> =>
  connectStore(new Worker(built.file("recorder/store/worker.ts"), { workerData: { path } }));

async function opened(path: string): Promise<Store> {
  const store = await connected(path);
  onTestFinished(() => store.close());
  return store;
}

test("every method answers through a thread started from the sources", async () => {
  const store = await openStore({ path: storePath() });
  onTestFinished(() => store.close());
  expect(store.opened_with).toBeNull();

  // Columns of any kind, and changed by their owner right after the call.
  const part = partOf(1, 0);
  const at_us = new Float64Array(part.log.at_us);
  const checkpointed = store.checkpoint([{ ...part, log: { ...part.log, at_us } }]);
  at_us.fill(0);
  await checkpointed;
  const [running] = await store.unfinished();
  expect(running && { ...running, log: plainLog(running.log) }).toEqual({
    set_id: uuidOf(1),
    station: "leg-press",
    log: joinedParts(1, 1),
  });
  await store.forget(uuidOf(1));
  expect(await store.unfinished()).toEqual([]);

  const kept = await store.keep(toKeep(inventedSet(2), "seat=3", inventedLog(2)));
  expect(kept).toEqual({ ...inventedSet(2), store: store.store_id, set_seq: 1 });
  expect(await store.sets({})).toEqual({
    store: store.store_id,
    first_set_seq: 1,
    last_set_seq: 1,
    more: false,
    sets: [kept],
  });
  const found = await store.set(uuidOf(2));
  expect(found && { ...found, log: plainLog(found.log) }).toEqual({ message: kept, log: inventedLog(2) });
  expect(await store.latest("leg-press")).toEqual(kept);
  const asked = { ...kept, setup: "seat=3", day_starts_at: instantAt(0), now: instantAt(9) };
  expect(await store.history(asked)).toMatchObject({ comparable: kept, set_of_day: 2 });

  const rows = await store.outbox(10);
  expect(rows.map((row) => row.payload)).toEqual([JSON.stringify(kept)]);
  expect(await store.outboxSize()).toBe(1);
  await store.sent(rows[0]!.row);
  expect(await store.outboxSize()).toBe(0);

  const record = inventedRecord(1);
  await store.saveCalibration(record);
  expect(await store.calibrationInForce("leg-press")).toEqual(record);
  expect(await store.calibrations("leg-press")).toEqual([record]);
  expect(await store.calibration(record.calibration_id)).toEqual(record);
  expect(await store.importCalibration(record)).toBe("known");
  const { calibration_id } = record;
  const use = { station: "leg-press", calibration_id, at: instantAt(3), performed_by: null };
  expect(await store.useCalibration(use)).toEqual(record);
  expect(await store.putInForce("leg-press")).toEqual([{ calibration_id, at: record.at, performed_by: "tech-1" }]);
  await store.saveCheck(inventedCheck(1));
  expect(await store.checks("leg-press")).toEqual([inventedCheck(1)]);
  expect(await store.calibrationDue("leg-press")).toBe(inventedCheck(1).due);
  const zero = { calibration_id, shift_counts: 1.5, asked_shift_counts: 1 };
  const saved = { ...zero, at: instantAt(4), cause: "asked", performed_by: null } as const;
  await store.saveZero("leg-press", saved);
  expect(await store.zero("leg-press")).toEqual(zero);
  expect(await store.zeros("leg-press", 10)).toEqual([saved]);
  await store.rememberRetained("a/topic");
  expect(await store.retained()).toEqual(["a/topic"]);
  await store.forgetRetained("a/topic");
  await store.tryWriting();
  expect(await store.retained()).toEqual([]);
});

test("what was asked for before the close is done, the file is whole, and the next opening has it", async () => {
  const path = storePath();
  const first = await connected(path);
  const keeping = [1, 2, 3].map((number) => first.keep(toKeep(inventedSet(number))));
  const closing = first.close();
  await expect(first.latest("leg-press")).rejects.toMatchObject({ code: "closed" });
  expect((await Promise.all(keeping)).map((set) => set.set_seq)).toEqual([1, 2, 3]);
  await closing;
  await first.close();
  await expect(first.latest("leg-press")).rejects.toMatchObject({ code: "closed" });
  expect(existsSync(`${path}-wal`)).toBe(false);
  const second = await opened(path);
  expect(second.store_id).toBe(first.store_id);
  expect((await second.sets({})).last_set_seq).toBe(3);
});

test("an opening that fails says why", async () => {
  const path = storePath();
  await opened(path);
  await expect(connected(path)).rejects.toMatchObject({ name: "StoreFailure", code: "in-use" });
  await expect(connected(`${path}/x/y.db`)).rejects.toMatchObject({ code: "unopenable" });
});

test("a damaged file is said at the opening", async () => {
  const path = storePath();
  writeFileSync(path, "garbage".repeat(1000));
  expect((await opened(path)).opened_with).toContain(`it is now ${path}.damaged-1`);
});

test("a request that cannot be sent or carried out fails alone", async () => {
  const store = await opened(storePath());
  const unsendable = { ...inventedLog(1), arm: () => "a function" };
  await expect(store.keep(toKeep(inventedSet(1), "", unsendable))).rejects.toThrow("could not be cloned");
  const broken = store.keep(toKeep(inventedSet(1), "", { ...inventedLog(1), counts: [0.5] }));
  await expect(broken).rejects.toMatchObject({ name: "StoreFailure", code: "unstorable" });
  expect((await store.keep(toKeep(inventedSet(1)))).set_seq).toBe(1);
});

describe("on a full disk", () => {
  test("keeping fails by name, nothing is half kept, and it works again when there is space", async () => {
    const path = storePath();
    const ballast = uuidOf(99);
    const before = openTables(path).methods;
    before.checkpoint([{ set_id: ballast, station: "row", part: 0, log: inventedLog(99, 30_000) }]);
    before.keep(toKeep(inventedSet(1)));
    before.close();

    const store = await connectStore(new Worker(built.file(SMALL_DISK), { workerData: { path, more_pages: 3 } }));
    onTestFinished(() => store.close());
    const large = toKeep(inventedSet(2), "", inventedLog(2, 20_000));
    for (let tries = 0; tries < 3; tries++) {
      await expect(store.keep(large)).rejects.toMatchObject({
        code: "disk-full",
        message: 'the store cannot carry out "keep": the disk is full; make space on it',
      });
    }
    expect((await store.sets({})).last_set_seq).toBe(1);
    expect(await store.outboxSize()).toBe(1);
    await store.forget(ballast);
    expect((await store.keep(large)).set_seq).toBe(2);
    const found = await store.set(uuidOf(2));
    expect(found && plainLog(found.log)).toEqual(inventedLog(2, 20_000));
  });
});

describe("a storage thread that dies", () => {
  /** A thread that opens, answers nothing, and dies of the first request. */
  const dying = (how: string): Worker =>
    new Worker(
      `const { parentPort } = require("node:worker_threads");
       parentPort.postMessage({ is: "opened", store_id: "x", opened_with: null });
       parentPort.once("message", () => { ${how} });`,
      { eval: true },
    );

  test.each([
    ["by an error", "throw new Error('out of luck')", "out of luck"],
    ["by an exit", "process.exit(3)", "it exited with code 3"],
  ])("%s fails what was asked and everything after, and is told once", async (_by, how, why) => {
    const told: StoreFailure[] = [];
    const store = await connectStore(dying(how), (failure) => told.push(failure));
    const asked = [store.retained(), store.outboxSize()];
    for (const request of asked) {
      await expect(request).rejects.toMatchObject({
        code: "lost",
        message: `the storage thread died (${why}); restart the recorder`,
      });
    }
    await expect(store.latest("leg-press")).rejects.toMatchObject({ code: "lost" });
    await store.close();
    expect(told.map((failure) => failure.code)).toEqual(["lost"]);
  });

  test("before it has opened fails the opening", async () => {
    const stillborn = new Worker("process.exit(0)", { eval: true });
    await expect(connectStore(stillborn)).rejects.toMatchObject({ code: "lost" });
  });
});

test("a storage thread that hangs is ended, and nobody waits for it", async () => {
  const hanging = new Worker(
    `const { parentPort } = require("node:worker_threads");
     parentPort.postMessage({ is: "opened", store_id: "x", opened_with: null });
     parentPort.once("message", () => { for (;;); });`,
    { eval: true },
  );
  const exited = once(hanging, "exit");
  const store = await connectStore(hanging, undefined, 50);
  const asked = store.latest("leg-press").catch((failure: StoreFailure) => failure.code);
  await expect(store.close()).rejects.toMatchObject({
    code: "closed",
    message: expect.stringMatching(/did not close/),
  });
  await exited;
  expect(await asked).toBe("closed");
});

test("compiled, it runs from any directory and starts its thread from the compiled file", () => {
  const path = storePath();
  const script = built.file("open-and-close.ts");
  writeFileSync(
    script,
    `import { openStore } from ${JSON.stringify(built.file("recorder/store/store.ts"))};
     const store = await openStore({ path: ${JSON.stringify(path)} });
     await store.rememberRetained("from a compiled store");
     await store.close();`,
  );
  execFileSync(process.execPath, [script], { cwd: "/" });
  const { methods } = openTables(path);
  expect(methods.retained()).toEqual(["from a compiled store"]);
  methods.close();
});
