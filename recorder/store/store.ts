/**
 * The store as the rest of the recorder sees it: a proxy in front of the storage thread. Requests are carried out in the
 * order they were made; what a request carries is copied before the call returns.
 */
import { Worker } from "node:worker_threads";
import type { InputLog, Store } from "../ports.ts";
import { StoreFailure } from "./failure.ts";
import { type FailureParts, type Hurry, noHurry, type StoreAnswer, type StoreRequest } from "./serve.ts";
import type { MethodName } from "./tables.ts";

export interface StoreOptions {
  /** The database file; its directory must exist. */
  readonly path: string;
  /** The storage thread died: every later request fails with `lost`. Not called for a `close` that was asked for. */
  readonly onLost?: (failure: StoreFailure) => void;
}

/** Rejects with a StoreFailure whose one sentence says why the store cannot be opened. */
export function openStore(options: StoreOptions): Promise<Store> {
  const hurry = noHurry();
  return connectStore(startWorker(options.path, hurry), options.onLost, CLOSE_WITHIN_MS, hurry);
}

function startWorker(path: string, hurry: Hurry): Worker {
  const here = import.meta.url;
  const workerData = { path, hurry };
  if (!here.endsWith(".ts")) return new Worker(new URL("./worker.js", here), { workerData });
  // From sources. Node 20 lets no loader given in `execArgv` take part in finding a thread's own file
  // (https://github.com/nodejs/node/issues/47747), so the thread begins with a line that registers it.
  const loader = JSON.stringify(import.meta.resolve("tsx/esm/api"));
  const source = JSON.stringify(new URL("./worker.ts", here).href);
  const begin = `import(${loader}).then(({ register }) => { register(); return import(${source}); })`;
  return new Worker(begin, { eval: true, workerData, execArgv: [] });
}

interface Waiting {
  resolve(value: unknown): void;
  reject(failure: StoreFailure): void;
}

/** What a thread that hangs in the disk is given to come to its end. */
const CLOSE_WITHIN_MS = 1400;

/**
 * The proxy for a storage thread that is starting. Half of `close_within_ms` after it was told to close it is hurried: what
 * it has not begun by then fails as `closed`. A thread that does not close in all that time is ended.
 */
export function connectStore(
  worker: Worker,
  onLost?: (failure: StoreFailure) => void,
  close_within_ms = CLOSE_WITHIN_MS,
  hurry = noHurry(),
): Promise<Store> {
  return new Promise((resolveStore, rejectStore) => {
    const waiting = new Map<number, Waiting>();
    let gone: StoreFailure | null = null;
    let closing: Promise<void> | null = null;
    let ids = 0;

    const lose = (failure: StoreFailure): void => {
      if (gone !== null) return;
      gone = failure;
      rejectStore(failure);
      for (const request of waiting.values()) request.reject(failure);
      waiting.clear();
      if (failure.code === "lost") onLost?.(failure);
    };

    const ask = (method: MethodName, args: readonly unknown[]): Promise<unknown> => {
      if (gone !== null) return Promise.reject(gone);
      if (closing !== null) return Promise.reject(CLOSED());
      return new Promise((resolve, reject) => {
        const request: StoreRequest = { id: ++ids, method, args };
        worker.postMessage(request);
        waiting.set(request.id, { resolve, reject });
      });
    };

    const close = (): Promise<void> => {
      // A dead thread has nothing left to close, and its death was told.
      if (gone !== null && closing === null) return Promise.resolve();
      closing ??= new Promise<void>((resolve, reject) => {
        const ended = new Promise<void>((resolveEnd) => worker.once("exit", () => resolveEnd()));
        const pressing = setTimeout(() => Atomics.store(hurry, 0, 1), close_within_ms / 2);
        const hanging = setTimeout(() => {
          reject(new StoreFailure("closed", HANGS));
          // A thread in a call to the disk ends only when that returns: nobody waits for it.
          void worker.terminate();
          worker.unref();
        }, close_within_ms);
        // Asked before `closing` is set, so it is the last request the thread gets.
        const closed = ask("close", []).then(() => ended);
        closed
          .finally(() => {
            clearTimeout(pressing);
            clearTimeout(hanging);
          })
          .then(resolve, reject);
      });
      return closing;
    };

    worker.on("message", (answer: StoreAnswer) => {
      switch (answer.is) {
        case "opened":
          resolveStore(proxyOf(answer.store_id, answer.opened_with, ask, close));
          return;
        case "refused":
          lose(failureFrom(answer.failure));
          return;
        case "done":
          waiting.get(answer.id)?.resolve(answer.value);
          waiting.delete(answer.id);
          return;
        case "failed":
          waiting.get(answer.id)?.reject(failureFrom(answer.failure));
          waiting.delete(answer.id);
      }
    });
    worker.on("error", (error) => lose(lost(error.message, error)));
    worker.on("exit", (code) => lose(closing === null ? lost(`it exited with code ${code}`) : CLOSED()));
  });
}

type Ask = (method: MethodName, args: readonly unknown[]) => Promise<unknown>;

function proxyOf(store_id: string, opened_with: string | null, ask: Ask, close: () => Promise<void>): Store {
  const through =
    <Name extends Exclude<MethodName, "close">>(method: Name) =>
    (...args: Parameters<Store[Name]>): ReturnType<Store[Name]> =>
      ask(method, args) as ReturnType<Store[Name]>;
  return {
    store_id,
    opened_with,
    keep: (set) => through("keep")({ ...set, log: cloneable(set.log) }),
    checkpoint: (parts) => through("checkpoint")(parts.map((part) => ({ ...part, log: cloneable(part.log) }))),
    forget: through("forget"),
    unfinished: through("unfinished"),
    sets: through("sets"),
    set: through("set"),
    latest: through("latest"),
    history: through("history"),
    revise: through("revise"),
    before: through("before"),
    series: through("series"),
    seriesDays: through("seriesDays"),
    savePlan: through("savePlan"),
    plan: through("plan"),
    plans: through("plans"),
    today: through("today"),
    tags: through("tags"),
    tag: through("tag"),
    saveTag: through("saveTag"),
    outbox: through("outbox"),
    sent: through("sent"),
    outboxSize: through("outboxSize"),
    saveCalibration: through("saveCalibration"),
    calibrationInForce: through("calibrationInForce"),
    calibrations: through("calibrations"),
    calibration: through("calibration"),
    useCalibration: through("useCalibration"),
    putInForce: through("putInForce"),
    importCalibration: through("importCalibration"),
    importPiece: through("importPiece"),
    beginErasure: through("beginErasure"),
    erasures: through("erasures"),
    eraseSets: through("eraseSets"),
    eraseClaims: through("eraseClaims"),
    endErasure: through("endErasure"),
    eraseTraces: through("eraseTraces"),
    sweep: through("sweep"),
    newestSure: through("newestSure"),
    saveCheck: through("saveCheck"),
    checks: through("checks"),
    calibrationDue: through("calibrationDue"),
    saveZero: through("saveZero"),
    zero: through("zero"),
    saveZeroMoved: through("saveZeroMoved"),
    zeros: through("zeros"),
    saveInspect: through("saveInspect"),
    inspect: through("inspect"),
    rememberRetained: through("rememberRetained"),
    forgetRetained: through("forgetRetained"),
    retained: through("retained"),
    tryWriting: through("tryWriting"),
    close,
  };
}

/** Columns may be of any array-like kind; between threads they go as plain numbers in one block. */
function cloneable(log: InputLog): InputLog {
  return { ...log, at_us: new Float64Array(log.at_us), counts: new Float64Array(log.counts) };
}

const failureFrom = ({ code, message }: FailureParts): StoreFailure => new StoreFailure(code, message);

const HANGS = "the storage thread did not close in time and was ended; what was committed is safe";
const CLOSED = (): StoreFailure => new StoreFailure("closed", "the store is closed");

function lost(detail: string, cause?: unknown): StoreFailure {
  return new StoreFailure("lost", `the storage thread died (${detail}); restart the recorder`, { cause });
}
