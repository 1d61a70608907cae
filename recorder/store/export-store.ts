/**
 * Writes what a store holds as a file of lines, from one moment's view of it: what is kept meanwhile is not in the file, and
 * keeping waits for nothing here.
 */
import { dirname } from "node:path";
import type { CalibrationRecord } from "../../calibration/record.ts";
import { onOneDisk } from "./backup-room.ts";
import { Database } from "./database.ts";
import { LEFT_FREE_BYTES, type LineFile, NotExported, openLineFile } from "./export-file.ts";
import { type Counts, type Header, KINDS, type Kind, LINE_CAP_BYTES, type Line } from "./export-lines.ts";
import { calibrationLines, planLines, setLines, tagLines, type Unreadable } from "./export-rows.ts";
import { setOfTrainee, withoutClaim } from "./export-trainee.ts";
import { inTheWay } from "./new-file.ts";

export interface ExportWish {
  /** The store's file, and the file to make. */
  readonly store_path: string;
  readonly path: string;
  readonly header: Header;
}

export interface Exported {
  readonly bytes: number;
  readonly counts: Counts;
  /** Sets that are kept and not in the file. */
  readonly left_out: readonly Unreadable[];
}

/** Looks at `stopped` between lines. Throws NotExported, or what the file system or the database throw; no file is left then. */
export function exportStore(wish: ExportWish, stopped: () => boolean): Exported {
  const why = inTheWay(wish.path, wish.store_path);
  if (why !== null) throw new NotExported("not-permitted", `${why}.`, "Name another file.");
  const database = new Database(wish.store_path);
  try {
    database.exec("PRAGMA query_only = ON; BEGIN");
    const shared = onOneDisk(dirname(wish.path), dirname(wish.store_path));
    const file = openLineFile(wish.path, shared ? LEFT_FREE_BYTES : 0);
    try {
      const { counts, left_out } = writeLines(database, file, wish.header, stopped);
      file.line({ kind: "end", counts, sha256: file.sum() });
      return { bytes: file.finish(), counts, left_out };
    } catch (error) {
      file.abandon();
      throw error;
    }
  } finally {
    endView(database);
  }
}

/** A connection outlives its closing, and its view would keep the store's log from being cut back. */
function endView(database: Database): void {
  try {
    database.exec("ROLLBACK");
  } finally {
    database.abandon();
  }
}

function writeLines(
  database: Database,
  file: LineFile,
  header: Header,
  stopped: () => boolean,
): Omit<Exported, "bytes"> {
  const { trainee } = header;
  const counts = Object.fromEntries(KINDS.map((kind) => [kind, 0])) as Record<Kind, number>;
  const left_out: Unreadable[] = [];
  const goOn = (): void => {
    if (stopped()) throw new NotExported("busy", "The recorder is gone, so the export was broken off.");
  };
  goOn();
  file.line(header);
  for (const line of linesFor(database, trainee)) {
    goOn();
    if (!("kind" in line)) left_out.push(line);
    else if (file.line(line, LINE_CAP_BYTES)) counts[line.kind] += 1;
    else left_out.push({ set_id: idOf(line), why: "its line would be longer than a reader takes" });
  }
  if (trainee !== null && counts.set + counts.plan + counts.tag === 0) {
    throw new NotExported("out-of-range", `Nothing is kept here of ${trainee}: look whether the code is right.`);
  }
  return { counts, left_out };
}

const idOf = (line: Line): string => (line.kind === "set" ? line.set.set_id : line.kind);

function* linesFor(database: Database, trainee: string | null): Generator<Line | Unreadable> {
  if (trainee === null) yield* calibrationLines(database);
  else yield* recordsNamedBy(database, trainee);
  for (const line of [...tagLines(database, trainee), ...planLines(database, trainee)]) {
    yield trainee === null ? line : withoutClaims(line);
  }
  for (const line of setLines(database, trainee)) {
    yield trainee === null || !("kind" in line) ? line : setOfTrainee(line, trainee);
  }
}

/** The calibration records that this trainee's sets name, so that their counts can be read as forces elsewhere. */
function* recordsNamedBy(database: Database, trainee: string): Generator<Line> {
  const rows = database.all<{ record: string }>(
    `SELECT record FROM calibration WHERE calibration_id IN
       (SELECT message ->> '$.calibration_id' FROM kept_set JOIN change_log ON change_log.set_seq = kept_set.set_seq
        WHERE kept_set.trainee = ? AND json_valid(message)) ORDER BY added`,
    trainee,
  );
  for (const { record } of rows) {
    yield { kind: "calibration", record: withoutClaim(JSON.parse(record) as CalibrationRecord) };
  }
}

function withoutClaims(line: Line): Line {
  if (line.kind === "tag") return { ...line, performed_by: null };
  return line.kind === "plan" ? { ...line, plan: { ...line.plan, performed_by: null } } : line;
}
