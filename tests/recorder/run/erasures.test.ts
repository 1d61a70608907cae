/** An erasure that could not be written is gone on with by itself, every ten minutes, until it is done. */
import { afterEach, beforeEach, expect, test, vi } from "vitest";
import type { CareAlone, CarePorts } from "../../../recorder/run/care.ts";
import { goOnErasing } from "../../../recorder/run/erasures.ts";
import { oneAtATime } from "../../../recorder/run/one-at-a-time.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { ERASED, filesWith, fill, NOTICE, ofOthers } from "../store/erasing.ts";
import { storePath } from "../store/store-path.ts";

const TEN_MINUTES_MS = 600_000;
const wish = { trainee: ERASED, ended_before: null, asked_at: NOTICE.envelope.at, performed_by: null };

beforeEach(() => void vi.useFakeTimers({ toFake: ["setInterval", "clearInterval"] }));
afterEach(() => void vi.useRealTimers());

/** A store as a thread of its own would answer it, which refuses to write `failing` times. */
function place(failing: number) {
  const path = storePath();
  const tables = openTables(path);
  fill(tables, 40);
  const others = ofOthers(tables);
  const { methods } = tables;
  methods.beginErasure(wish);
  let failures = 0;
  const turn = async <T>(work: () => T): Promise<T> => work();
  const store = {
    erasures: () => turn(() => methods.erasures()),
    eraseSets: (...args: Parameters<typeof methods.eraseSets>) =>
      turn(() => {
        if (failures++ < failing) throw new Error("database or disk is full");
        return methods.eraseSets(...args);
      }),
    eraseClaims: (...args: Parameters<typeof methods.eraseClaims>) => turn(() => methods.eraseClaims(...args)),
    eraseTraces: (...args: Parameters<typeof methods.eraseTraces>) => turn(() => methods.eraseTraces(...args)),
    endErasure: (...args: Parameters<typeof methods.endErasure>) => turn(() => methods.endErasure(...args)),
    sweep: () => turn(() => methods.sweep()),
  };
  const said: string[] = [];
  const log = {
    info: (_fields: object, message: string) => said.push(message),
    warn: (_fields: object, message: string) => said.push(message),
    error: (_fields: object, message: string) => said.push(message),
  };
  const now = () => ({ ms: 0, wall_ms: Date.parse(NOTICE.envelope.at), clock_synced: true });
  const { alone, settled } = oneAtATime(now);
  const pieces = {
    store,
    stations: [],
    notice: () => NOTICE,
    forget() {},
    gone() {},
    latest() {},
    stopping: new AbortController().signal,
    date: () => NOTICE.envelope.at,
  };
  const erasing = new Set<string>([ERASED]);
  const ports = { store, path, erasing, pieces, now, log } as unknown as CarePorts;
  const care = { alone, settled } as unknown as CareAlone;
  const stop = goOnErasing(care, ports, { left: [], keep_sets_days: undefined });
  return { path, tables, others, said, erasing, care, stop };
}

/** The interval strikes, and what it began is over. */
async function tenMinutes({ settled }: CareAlone): Promise<void> {
  vi.advanceTimersByTime(TEN_MINUTES_MS);
  await settled();
  await new Promise(setImmediate);
}

test("after writes that failed it is tried again, and what of it is done is said once", async () => {
  const { path, tables, others, said, erasing, care, stop } = place(2);
  await tenMinutes(care);
  await tenMinutes(care);
  expect(said).toEqual(Array(2).fill(expect.stringMatching(/could not be gone on with; it is tried again every ten/)));
  expect(tables.methods.erasures().open).toHaveLength(1);
  expect(erasing).toEqual(new Set([ERASED]));

  await tenMinutes(care);
  expect(said.slice(2)).toEqual(["An erasure that had been broken off is done."]);
  expect(tables.methods.erasures().open).toEqual([]);
  expect(erasing).toEqual(new Set());
  expect(filesWith(path, ERASED)).toEqual([]);
  expect(ofOthers(tables)).toEqual(others);

  await tenMinutes(care);
  expect(said).toHaveLength(3);
  stop();
});

test("while something else is under way it waits, and once the recorder stops it is left alone", async () => {
  const { tables, said, care, stop } = place(0);
  let over: () => void = () => {};
  const import_ = care.alone("An import", async () => {
    await new Promise<void>((resolve) => {
      over = resolve;
    });
    return { ok: true, result: {} };
  });
  vi.advanceTimersByTime(TEN_MINUTES_MS);
  await new Promise(setImmediate);
  expect(said).toEqual([]);
  over();
  await import_;
  expect(tables.methods.erasures().open).toHaveLength(1);
  stop();
  await tenMinutes(care);
  expect(tables.methods.erasures().open).toHaveLength(1);
});
