/** The store as plain synchronous calls on its file: what the worker runs, and the whole of its meaning. */
import { existsSync } from "node:fs";
import type { Store } from "../ports.ts";
import { calibrationDirectory, writeCalibrationFile, writeCheckFile, writeInForceFile } from "./calibration-files.ts";
import * as calibrations from "./calibrations.ts";
import * as checks from "./checks.ts";
import type { Database } from "./database.ts";
import * as erasing from "./erase.ts";
import { eraseClaims } from "./erase-logs.ts";
import { eraseSets, PIECE_MS } from "./erase-sets.ts";
import { traceEraser } from "./erase-traces.ts";
import { failureOf } from "./failure.ts";
import { before, history } from "./history.ts";
import { importPiece } from "./import-piece.ts";
import { keep, revise } from "./keeping.ts";
import * as keptSets from "./kept-sets.ts";
import { markSuspect, type OpenedFile, openFile } from "./open.ts";
import * as outbox from "./outbox.ts";
import * as plans from "./plans.ts";
import { takePending } from "./restore-pending.ts";
import * as runningParts from "./running-parts.ts";
import { watchFile } from "./same-file.ts";
import { series, seriesDays } from "./series.ts";
import * as standing from "./standing.ts";
import * as tags from "./tags.ts";
import * as zeros from "./zeros.ts";

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
  /** Its file is new. */
  readonly begun: boolean;
  readonly methods: StoreMethods;
  /** Lets go of the file as it is. */
  abandon(): void;
  /** The file itself, for what only a test or a migration does. */
  readonly database: Database;
}

/** Throws a StoreFailure, as each method does. */
export function openTables(path: string, steps?: readonly string[]): Tables {
  const file = openFile(path, steps);
  const { database, store_id } = file;
  return {
    store_id,
    database,
    opened_with: openedWith(path, file),
    begun: file.begun,
    methods: guarded(path, methodsOf(path, file)),
    abandon: file.abandon,
  };
}

/**
 * `openTables`, after a restore that was prepared has taken its place; and a store without calibrations takes over those that
 * lie beside it, so that a gym goes on after a damaged file. Rejects with a StoreFailure.
 */
export async function openTablesWithCalibrations(path: string): Promise<Tables> {
  const tables = withWord(await takePending(path), openTables(path));
  if (calibrations.hasCalibrations(tables.database) || !existsSync(calibrationDirectory(path))) return tables;
  try {
    const { readCalibrationFiles } = await import("./read-calibration-files.ts");
    const { records, checks: checked, in_force } = readCalibrationFiles(path);
    if (records.length === 0) return tables;
    const { database } = tables;
    database.transaction(() => {
      for (const record of records) calibrations.keepRecord(database, record);
      for (const use of in_force) calibrations.putInForce(database, use);
      for (const check of checked) checks.keepCheck(database, check);
    });
    const taken = `Calibrations taken over from ${calibrationDirectory(path)}: ${records.length}. Zero each station before use.`;
    const said = tables.opened_with ?? (tables.begun ? missing(path) : null);
    return { ...tables, opened_with: said === null ? taken : `${said} ${taken}` };
  } catch (error) {
    tables.methods.close();
    throw failureOf(error, `cannot take over the calibrations beside the store ${path}`);
  }
}

const withWord = (word: string | null, tables: Tables): Tables =>
  word === null ? tables : { ...tables, opened_with: [word, tables.opened_with ?? []].flat().join(" ") };

function methodsOf(path: string, { database, store_id, close }: OpenedFile): StoreMethods {
  const tracesOf = traceEraser(path, database);
  return {
    keep: (set) => keep(database, store_id, set),
    checkpoint: (parts) => runningParts.checkpoint(database, parts),
    forget: (set_id) => runningParts.forget(database, set_id),
    unfinished: () => runningParts.unfinished(database),
    sets: (query) => keptSets.sets(database, store_id, query),
    set: (set_id) => keptSets.set(database, set_id),
    latest: (station) => keptSets.latest(database, station),
    history: (query) => history(database, query),
    revise: (revising) => revise(database, store_id, revising),
    before: (query) => before(database, query),
    series: (query) => series(database, query),
    seriesDays: (query) => seriesDays(database, query),
    savePlan: (saved) => plans.savePlan(database, saved),
    plan: (station, trainee) => plans.plan(database, station, trainee),
    plans: (query) => plans.plans(database, query),
    today: (query) => plans.today(database, query),
    tags: () => tags.tags(database),
    tag: (tag) => tags.tag(database, tag),
    saveTag: (tag) => tags.saveTag(database, tag),
    outbox: (limit) => outbox.outbox(database, limit),
    sent: (row) => outbox.sent(database, row),
    outboxSize: () => outbox.outboxSize(database),
    saveCalibration: (record) =>
      calibrations.saveCalibration(database, record, () => {
        writeCalibrationFile(path, record);
        writeInForceFile(path, record.station, record);
      }),
    calibrationInForce: (station) => calibrations.calibrationInForce(database, station),
    calibrations: (station) => calibrations.calibrations(database, station),
    calibration: (calibration_id) => calibrations.calibration(database, calibration_id),
    useCalibration: (use) => calibrations.useCalibration(database, use, () => writeInForceFile(path, use.station, use)),
    putInForce: (station) => calibrations.timesInForce(database, station),
    importCalibration: (record) =>
      calibrations.importCalibration(database, record, () => {
        writeCalibrationFile(path, record);
        // Its date may be the newest there.
        writeInForceFile(path, record.station, calibrations.timesInForce(database, record.station)[0] ?? null);
      }),
    beginErasure: (wish) => erasing.beginErasure(database, wish),
    erasures: () => erasing.erasures(database),
    eraseSets: (number, notice, after) =>
      eraseSets(database, store_id, erasing.erasureOf(database, number), notice, after),
    eraseClaims: (number, after) => {
      const { trainee } = erasing.erasureOf(database, number);
      return trainee === null ? NO_CLAIMS : eraseClaims(database, trainee, after, PIECE_MS);
    },
    eraseTraces: (number, after) => {
      const { trainee } = erasing.erasureOf(database, number);
      const traces = trainee === null ? null : tracesOf(trainee, after);
      return typeof traces === "string" ? traces : (traces?.after ?? null);
    },
    endErasure: (number, done_at) => erasing.endErasure(database, number, done_at),
    sweep: () => erasing.sweep(database),
    newestSure: () => erasing.newestSure(database),
    importPiece: (piece) => importPiece(database, store_id, piece, path),
    saveCheck: (check) => checks.saveCheck(database, check, () => writeCheckFile(path, check)),
    checks: (station) => checks.checks(database, station),
    calibrationDue: (station) => checks.calibrationDue(database, station),
    saveZero: (station, zero) => zeros.saveZero(database, station, zero),
    zero: (station) => zeros.standingZero(database, station),
    saveZeroMoved: (station, moved) => zeros.saveZeroMoved(database, station, moved),
    zeros: (station, limit) => zeros.zeros(database, station, limit),
    saveInspect: (station, latched) => standing.saveInspect(database, station, latched),
    inspect: (station) => standing.inspect(database, station),
    rememberRetained: (topic) => standing.rememberRetained(database, topic),
    forgetRetained: (topic) => standing.forgetRetained(database, topic),
    retained: () => standing.retained(database),
    tryWriting: () => standing.tryWriting(database),
    close,
  };
}

/** Who is only too old is named by nobody else. */
const NO_CLAIMS = { claims: 0, unreadable: [], after: null } as const;

/** Every error leaves as a StoreFailure; damage met on the way has the next start look closely; a file that is gone is told. */
function guarded(path: string, methods: StoreMethods): StoreMethods {
  const stillThere = watchFile(path);
  const wrapped = Object.entries(methods).map(([name, method]) => [
    name,
    (...args: unknown[]): unknown => {
      try {
        if (name !== "close") stillThere();
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

/** A store that was deleted or moved while nobody looked: somebody will ask where the record went. */
const missing = (path: string): string =>
  `There was no store at ${path}, though calibrations lie beside it, so a new, empty one was begun: ` +
  "if the former was moved, stop the recorder and put it back.";

/** What a person must know about the opening; null: nothing. */
function openedWith(path: string, { moved, copied }: OpenedFile): string | null {
  if (moved !== null) {
    return `The store ${path} was damaged (${moved.why}); it is now ${moved.to}, and a new, empty one was begun.`;
  }
  return copied === null ? null : `The store ${path} was brought up to date; what it was before is in ${copied}.`;
}
