/** A piece of an export, into this store. What is here stays as it is, and of everything new it is told how much there was. */
import { isDeepStrictEqual } from "node:util";
import type { CalibrationRecord, CheckRecord } from "../../calibration/record.ts";
import type { Plan } from "../../protocol/requests/plan.ts";
import { type Amounts, IMPORTED_KINDS, type ImportedPiece, type ImportPiece } from "../care-ports.ts";
import type { TagLink } from "../ports.ts";
import { writeCalibrationFile, writeCheckFile, writeInForceFile } from "./calibration-files.ts";
import { calibration, importCalibration, timesInForce } from "./calibrations.ts";
import { saveCheck } from "./checks.ts";
import type { Database } from "./database.ts";
import { importSet } from "./import-sets.ts";
import { saveTag, tag as tagLinkOf } from "./tags.ts";

/** Throws what the database and the file system throw. */
export function importPiece(database: Database, store_id: string, piece: ImportPiece, path: string): ImportedPiece {
  const told = telling(piece.after);
  for (const record of piece.calibrations)
    told.of("calibrations", record.calibration_id, takeRecord(database, record, path));
  for (const check of piece.checks) told.of("checks", check.check_id, takeCheck(database, check, path));
  const { tags, plans, sets } = piece;
  if (tags.length + plans.length + sets.length === 0) return told.piece();
  return database.transaction(() => {
    for (const link of tags) told.of("tags", link.tag, takeTag(database, link));
    for (const plan of plans) told.of("plans", `${plan.trainee} at ${plan.station}`, takePlan(database, plan));
    for (const [index, set] of sets.entries()) {
      const fate = importSet(database, store_id, set, told.place(), piece.sets_left - index);
      if (fate.is === "erased") told.erased();
      else told.set(set.set_id, fate.is, fate.place);
    }
    return told.piece();
  });
}

type Taken = "imported" | "known" | "differs";

function takeRecord(database: Database, record: CalibrationRecord, path: string): Taken {
  // A trainee's own file does not say who took the record.
  const here = record.performed_by === null ? calibration(database, record.calibration_id) : null;
  const theirs = here === null ? record : { ...record, performed_by: here.performed_by };
  const imported = importCalibration(database, theirs, () => {
    writeCalibrationFile(path, theirs);
    // Its date may be the newest there.
    writeInForceFile(path, theirs.station, timesInForce(database, theirs.station)[0] ?? null);
  });
  return imported === "kept" ? "imported" : imported;
}

function takeCheck(database: Database, check: CheckRecord, path: string): Taken {
  const row = database.get<{ record: string }>(
    "SELECT record FROM calibration_check WHERE check_id = ?",
    check.check_id,
  );
  if (row === undefined) {
    saveCheck(database, check, () => writeCheckFile(path, check));
    return "imported";
  }
  return isDeepStrictEqual(JSON.parse(row.record), JSON.parse(JSON.stringify(check))) ? "known" : "differs";
}

function takeTag(database: Database, link: TagLink): Taken {
  const here = tagLinkOf(database, link.tag);
  if (here === null) {
    saveTag(database, link);
    return "imported";
  }
  return here.trainee === link.trainee ? "known" : "differs";
}

/** One that was saved, or taken away, at the same time or later stays as it is. */
function takePlan(database: Database, plan: Plan): Taken {
  const { station, trainee, saved_at, performed_by } = plan;
  const here = database.get<{ saved_at: string; plan: string | null }>(
    "SELECT saved_at, plan FROM plan WHERE trainee = ? AND station = ? ORDER BY saved DESC LIMIT 1",
    ...[trainee, station],
  );
  if (here !== undefined && here.saved_at >= saved_at) {
    const kept = here.plan === null ? null : (JSON.parse(here.plan) as Plan);
    // A trainee's own file does not say who decided it.
    const theirs = { ...plan, performed_by: performed_by ?? kept?.performed_by ?? null };
    return isDeepStrictEqual(kept, JSON.parse(JSON.stringify(theirs))) ? "known" : "differs";
  }
  database.run(
    "INSERT INTO plan (station, trainee, saved_at, performed_by, plan) VALUES (?, ?, ?, ?, ?)",
    ...[station, trainee, saved_at, performed_by, JSON.stringify(plan)],
  );
  return "imported";
}

/** What came of a piece, as it goes. */
function telling(after: number | null) {
  const imported = noAmounts();
  const known = noAmounts();
  const differing: ImportedPiece["differing"][number][] = [];
  let place = after;
  let later = 0;
  let erased = 0;
  const of = (kind: keyof Amounts, id: string, taken: Taken): void => {
    if (taken === "imported") imported[kind] += 1;
    else known[kind] += 1;
    if (taken === "differs") differing.push({ kind, id });
  };
  return {
    of,
    set(set_id: string, is: Taken | "later", at: number): void {
      of("sets", set_id, is === "later" ? "known" : is);
      if (is === "later") later += 1;
      place = at;
    },
    erased(): void {
      erased += 1;
    },
    place: (): number | null => place,
    piece: (): ImportedPiece => ({ imported, known, differing, later, erased, place }),
  };
}

const noAmounts = (): Record<keyof Amounts, number> =>
  Object.fromEntries(IMPORTED_KINDS.map((kind) => [kind, 0])) as Record<keyof Amounts, number>;
