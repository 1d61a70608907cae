/**
 * A whole file looked at before anything of it is written: every line, what stands twice, the amounts its end counts, and
 * the sum over all its bytes.
 */
import { createHash } from "node:crypto";
import { crc32 } from "node:zlib";
import { type Counts, type Header, KINDS, type Kind, LINE_CAP_BYTES, type Line } from "../store/export-lines.ts";
import { readLine } from "./import-line.ts";
import { rawLines } from "./import-reading.ts";

export interface CheckedFile {
  readonly header: Header;
  readonly counts: Counts;
  readonly bytes: number;
  /** CRC-32 of each line, so that what is written is what was checked. */
  readonly sums: readonly number[];
  /** Of the sets and the calibrations. */
  readonly stations: readonly string[];
  /** Of each station the record that was in force last, for whoever has to put one in force here. */
  readonly in_force: Readonly<Record<string, string>>;
}

export interface Faulty {
  /** From 1. */
  readonly line: number;
  /** Follows the number, without a full stop. */
  readonly what: string;
}

const CUT = "the file is cut off: its last line is not the `end` line of an export";

/** `file` is open for reading. Throws what the file system throws. */
export function checkFile(file: number): CheckedFile | Faulty {
  const hash = createHash("sha256");
  const counts = Object.fromEntries(KINDS.map((kind) => [kind, 0])) as Record<Kind, number>;
  const in_force: Record<string, string> = {};
  const seen = new Set<string>();
  const stations = new Set<string>();
  const sums: number[] = [];
  let header: Header | null = null;
  let ended = false;
  let last = 0;
  let size = 0;
  for (const raw of rawLines(file, LINE_CAP_BYTES)) {
    if ("too_long" in raw) return { line: raw.too_long, what: `it is longer than ${LINE_CAP_BYTES} bytes` };
    const { number, bytes } = raw;
    last = number;
    size += bytes.length + 1;
    if (ended) return { line: number, what: "the file goes on after its `end` line" };
    const read = readLine(bytes);
    if (header === null && read.is !== "header" && read.is !== "fault") return { line: number, what: NO_HEADER };
    if (!raw.ended) return { line: number, what: CUT };
    switch (read.is) {
      case "fault":
        return { line: number, what: read.what };
      case "header":
        if (header !== null) return { line: number, what: "a second file begins here: import one file at a time" };
        header = read.header;
        break;
      case "end": {
        const what = amiss(read.end.counts, counts) ?? (read.end.sha256 === hash.digest("hex") ? null : OTHER_SUM);
        if (what !== null) return { line: number, what };
        ended = true;
        break;
      }
      case "line": {
        const { line } = read;
        const what = strange(line, header?.trainee ?? null, seen);
        if (what !== null) return { line: number, what };
        counts[line.kind] += 1;
        if (line.kind === "set") stations.add(line.set.station);
        if (line.kind === "calibration") stations.add(line.record.station);
        if (line.kind === "in-force") in_force[line.station] = line.calibration_id;
      }
    }
    sums.push(crc32(bytes));
    if (!ended) hash.update(bytes).update("\n");
  }
  if (header === null || !ended) return { line: Math.max(last, 1), what: last === 0 ? "the file is empty" : CUT };
  return { header, counts, bytes: size, sums, stations: [...stations].sort(), in_force };
}

const NO_HEADER = "the file does not begin as an export does";
const OTHER_SUM = "the file's bytes are not those that were written: it was changed or damaged on its way";

function amiss(said: Counts, counted: Counts): string | null {
  const kind = KINDS.find((each) => said[each] !== counted[each]);
  return kind === undefined ? null : `it counts ${said[kind]} lines of ${kind}, and there are ${counted[kind]}`;
}

/** A line that stands twice, or is of somebody the file is not about. */
function strange(line: Line, trainee: string | null, seen: Set<string>): string | null {
  const { key, whose } = aboutOf(line);
  if (trainee !== null && whose !== undefined && whose !== trainee) return `it is not of ${trainee}, as the file says`;
  if (key === null) return null;
  if (seen.has(key)) return `its ${line.kind} stands in the file twice`;
  seen.add(key);
  return null;
}

interface About {
  /** null: it may come again. */
  readonly key: string | null;
  /** undefined: it is nobody's. */
  readonly whose?: string | null;
}

function aboutOf(line: Line): About {
  switch (line.kind) {
    case "set":
      return { key: line.set.set_id, whose: line.set.trainee };
    case "calibration":
      return { key: `calibration ${line.record.calibration_id}` };
    case "check":
      return { key: `check ${line.record.check_id}` };
    case "tag":
      return { key: `tag ${line.tag}`, whose: line.trainee };
    case "plan":
      return { key: `plan ${line.plan.trainee} ${line.plan.station}`, whose: line.plan.trainee };
    case "in-force":
      return { key: null };
  }
}
