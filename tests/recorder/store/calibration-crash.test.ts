/** Killed in the middle of accepting, checking, importing and going back: each is there whole, or not at all. */
import { spawn } from "node:child_process";
import { once } from "node:events";
import { readFileSync } from "node:fs";
import { createInterface } from "node:readline";
import { afterAll, beforeAll, expect, test } from "vitest";
import { openTables, type StoreMethods } from "../../../recorder/store/tables.ts";
import { type Built, build } from "./built.ts";
import { changeOf } from "./calibration-changes.ts";
import { numbers } from "./invented.ts";
import { storePath } from "./store-path.ts";

const CHILD = "tests/recorder/store/calibration-crash-child.ts";
const ROUNDS = 24;
const STATION = "leg-press";

let built: Built;
beforeAll(() => {
  built = build(CHILD, "recorder/store/worker.ts");
}, 60_000);
afterAll(() => built.remove());

/** Kills the child once it has said so many changes are done, which may be in the middle of another; the last one it said. */
async function killedAfter(changes: number, path: string, first: number): Promise<number> {
  const child = spawn(process.execPath, [built.file(CHILD), path, String(first)], {
    stdio: ["ignore", "pipe", "inherit"],
  });
  let done = first;
  const reader = createInterface({ input: child.stdout });
  reader.on("line", (line) => {
    done = Number(line);
    if (done === first + changes) child.kill("SIGKILL");
  });
  await Promise.all([once(child, "close"), once(reader, "close")]);
  expect(child.signalCode).toBe("SIGKILL");
  return done;
}

function standing(store: StoreMethods) {
  return {
    in_force: store.calibrationInForce(STATION)?.calibration_id ?? null,
    since: store.putInForce(STATION),
    due: store.calibrationDue(STATION),
    calibrations: store.calibrations(STATION),
    checks: store.checks(STATION),
    zero: store.zero(STATION),
    zeros: store.zeros(STATION, 100_000),
  };
}

/** A file beside the store, whole. */
const beside = (path: string, name: string): unknown =>
  JSON.parse(readFileSync(`${path}-calibrations/${STATION}-${name}.json`, "utf8"));

test(`killed ${ROUNDS} times, the store stands where it said it does, or one change further`, {
  timeout: 120_000,
}, async () => {
  const path = storePath();
  // Goes through the same changes without ever being killed.
  const model = openTables(storePath()).methods;
  const next = numbers(41);
  let modelled = 0;
  const change = (): void => {
    const { method, args } = changeOf(modelled);
    (model[method] as (...args: readonly unknown[]) => unknown)(...args);
    modelled += 1;
  };
  let looked_at = 0;
  const killed_before = new Set<string>();
  for (let round = 0; round < ROUNDS; round++) {
    const done = await killedAfter(1 + Math.floor(next() * 9), path, modelled);
    while (modelled < done) change();
    killed_before.add(changeOf(done).method);
    const { database, methods, opened_with } = openTables(path);
    expect(opened_with).toBeNull();
    expect(database.pragma("integrity_check")).toBe("ok");
    const found = standing(methods);
    if (JSON.stringify(found) !== JSON.stringify(standing(model))) change();
    expect(found).toEqual(standing(model));
    // What is kept lies beside the store, whole; what is in force there may be the change that was cut off.
    for (const record of found.calibrations.slice(0, found.calibrations.length - looked_at)) {
      expect(beside(path, record.calibration_id)).toEqual(record);
    }
    looked_at = found.calibrations.length;
    for (const check of found.checks) expect(beside(path, `check-${check.check_id}`)).toEqual(check);
    const cut_off = changeOf(modelled);
    const could_be = [found.in_force];
    if (cut_off.method === "saveCalibration") could_be.push(cut_off.args[0].calibration_id);
    if (cut_off.method === "useCalibration") could_be.push(cut_off.args[0].calibration_id);
    expect(could_be).toContain(
      (beside(path, "in-force") as { in_force: { calibration_id: string } }).in_force.calibration_id,
    );
    methods.close();
  }
  model.close();
  // No kind of change was spared.
  expect(killed_before.size).toBe(5);
});
