/**
 * What the import's process says, bit by bit as it is asked: first whether the file is sound, then its content in pieces that
 * the storage thread writes within a moment.
 */
import { crc32 } from "node:zlib";
import type { ImportPiece, RevisionToImport, SetToImport } from "../care-ports.ts";
import { type Kind, LINE_CAP_BYTES, type Line, type RevisionLine, type SetLine } from "../store/export-lines.ts";
import { type CheckedFile, checkFile, type Faulty } from "./import-checking.ts";
import { rawLines } from "./import-reading.ts";

/** The first set of a piece may be of any size. */
type Piece = Omit<ImportPiece, "after">;
export type ImportSaid =
  | { readonly is: "sound"; readonly file: Omit<CheckedFile, "sums"> }
  | { readonly is: "faulty"; readonly fault: Faulty }
  | { readonly is: "piece"; readonly piece: Piece }
  | { readonly is: "changed" }
  | { readonly is: "done" };

/** A calibration record and a check are written as a file of their own each, with syncs of its own. */
const PIECE_FILES = 4;
const PIECE_ROWS = 16;
const PIECE_BYTES = 256 * 1024;
const FILED: ReadonlySet<string> = new Set(["calibration", "check"] satisfies Kind[]);

/** `file` is open for reading. Throws what the file system throws. */
export function* sayFile(file: number): Generator<ImportSaid> {
  const checked = checkFile(file);
  if (!("header" in checked)) {
    yield { is: "faulty", fault: checked };
    return;
  }
  const { sums, ...rest } = checked;
  yield { is: "sound", file: rest };
  let sets_left = checked.counts.set;
  let filling = emptyPiece();
  let weight = 0;
  for (const raw of rawLines(file, LINE_CAP_BYTES)) {
    if ("too_long" in raw || crc32(raw.bytes) !== sums[raw.number - 1]) {
      yield { is: "changed" };
      return;
    }
    const line = JSON.parse(raw.bytes.toString()) as Line;
    if (!add(filling, line)) continue;
    weight += Math.max(raw.bytes.length / PIECE_BYTES, 1 / (FILED.has(line.kind) ? PIECE_FILES : PIECE_ROWS));
    if (weight < 1) continue;
    yield { is: "piece", piece: { ...filling, sets_left } };
    sets_left -= filling.sets.length;
    filling = emptyPiece();
    weight = 0;
  }
  if (weight > 0) yield { is: "piece", piece: { ...filling, sets_left } };
  yield { is: "done" };
}

type Filling = { readonly [Name in "calibrations" | "checks" | "tags" | "plans" | "sets"]: Piece[Name][number][] };
const emptyPiece = (): Filling => ({ calibrations: [], checks: [], tags: [], plans: [], sets: [] });

/** false: nothing of this line is written. */
function add(piece: Filling, line: Line): boolean {
  switch (line.kind) {
    case "calibration":
      piece.calibrations.push(line.record);
      return true;
    case "check":
      piece.checks.push(line.record);
      return true;
    case "tag": {
      const { tag, trainee, linked_at, performed_by } = line;
      piece.tags.push({ tag, trainee, linked_at, performed_by });
      return true;
    }
    case "plan":
      piece.plans.push(line.plan);
      return true;
    case "set":
      piece.sets.push(setOf(line));
      return true;
    default:
      return false;
  }
}

const setOf = (line: SetLine): SetToImport => ({
  set_id: line.set.set_id,
  setup: line.setup,
  log: new Uint8Array(Buffer.from(line.log, "base64")),
  revisions: [...line.earlier, line].map(revisionOf),
});

const revisionOf = ({ set, performed_by, revised_at }: RevisionLine): RevisionToImport => ({
  message: JSON.stringify(set),
  performed_by,
  revised_at,
});
