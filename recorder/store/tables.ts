/** The store as plain synchronous calls on its file: what the worker runs, and the whole of its meaning. */
import type { Store } from "../ports.ts";
import { calibrationDirectory, readCalibrationFiles, writeCalibrationFile } from "./calibration-files.ts";
import * as calibrations from "./calibrations.ts";
import type { Database } from "./database.ts";
import { failureOf } from "./failure.ts";
import { history } from "./history.ts";
import { keep } from "./keeping.ts";
import * as keptSets from "./kept-sets.ts";
import { markSuspect, type OpenedFile, openFile } from "./open.ts";
import * as outbox from "./outbox.ts";
import * as runningParts from "./running-parts.ts";
import * as standing from "./standing.ts";

/** The methods of a Store, answering at once. */
export type StoreMethods = {
  [Name in keyof Store as Store[Name] extends (...args: never[]) => Promise<unknown>
    ? Name
    : never]: Store[Name] extends (...args: infer Args) => Promise<infer Result> ? (...args: Args) => Result : never;
};
export type MethodName = keyof StoreMethods;

export interface Tables {
  readonly store_id: string;
  readonly opened_with: string | null;
  readonly methods: StoreMethods;
  /** The file itself, for what only a test or a migration does. */
  readonly database: Database;
}

/** Throws a StoreFailure, as each method does. */
export function openTables(path: string, steps?: readonly string[]): Tables {
  const file = openFile(path, steps);
  const { database, store_id } = file;
  try {
    const opened_with = openedWith(path, file);
    return { store_id, database, opened_with, methods: guarded(path, methodsOf(path, file)) };
  } catch (error) {
    file.close();
    throw failureOf(error, `cannot open the store ${path}`);
  }
}

function methodsOf(path: string, { database, store_id, close }: OpenedFile): StoreMethods {
  return {
    keep: (set) => keep(database, store_id, set),
    checkpoint: (parts) => runningParts.checkpoint(database, parts),
    forget: (set_id) => runningParts.forget(database, set_id),
    unfinished: () => runningParts.unfinished(database),
    sets: (query) => keptSets.sets(database, store_id, query),
    set: (set_id) => keptSets.set(database, set_id),
    latest: (station) => keptSets.latest(database, station),
    history: (query) => history(database, query),
    outbox: (limit) => outbox.outbox(database, limit),
    sent: (row) => outbox.sent(database, row),
    outboxSize: () => outbox.outboxSize(database),
    saveCalibration: (record) => {
      calibrations.saveCalibration(database, record);
      writeCalibrationFile(path, record);
    },
    calibrationInForce: (station) => calibrations.calibrationInForce(database, station),
    calibrations: (station) => calibrations.calibrations(database, station),
    calibration: (calibration_id) => calibrations.calibration(database, calibration_id),
    saveZero: (station, zero) => standing.saveZero(database, station, zero),
    zero: (station) => standing.savedZero(database, station),
    saveInspect: (station, latched) => standing.saveInspect(database, station, latched),
    inspect: (station) => standing.inspect(database, station),
    rememberRetained: (topic) => standing.rememberRetained(database, topic),
    forgetRetained: (topic) => standing.forgetRetained(database, topic),
    retained: () => standing.retained(database),
    close,
  };
}

/** Every error leaves as a StoreFailure, and damage met on the way has the next start look closely. */
function guarded(path: string, methods: StoreMethods): StoreMethods {
  const wrapped = Object.entries(methods).map(([name, method]) => [
    name,
    (...args: unknown[]): unknown => {
      try {
        return (method as (...args: unknown[]) => unknown)(...args);
      } catch (error) {
        const failure = failureOf(error, `the store cannot carry out "${name}"`);
        if (failure.code === "corrupt") markSuspect(path);
        throw failure;
      }
    },
  ]);
  return Object.fromEntries(wrapped) as StoreMethods;
}

/**
 * What a person must know about the opening; null: nothing. A store without calibrations takes over those beside it, so
 * that the gym goes on after a damaged file.
 */
function openedWith(path: string, { database, moved, copied }: OpenedFile): string | null {
  const said: string[] = [];
  if (moved !== null) {
    said.push(`The store ${path} was damaged (${moved.why}); it is now ${moved.to}, and a new, empty one was begun.`);
  }
  if (copied !== null) said.push(`The store ${path} was brought up to date; what it was before is in ${copied}.`);
  const taken = calibrations.takeOverCalibrations(database, readCalibrationFiles(path));
  if (taken > 0) {
    said.push(`Calibrations taken over from ${calibrationDirectory(path)}: ${taken}. Zero each station before use.`);
  }
  return said.length === 0 ? null : said.join(" ");
}
