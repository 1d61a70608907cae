/** The lines of an export as the store holds them, in the order of the file. Rows are read one by one, however many there are. */
import type { CalibrationRecord, CheckRecord } from "../../calibration/record.ts";
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { Plan } from "../../protocol/requests/plan.ts";
import type { Database } from "./database.ts";
import type { Line, RevisionLine, SetLine } from "./export-lines.ts";
import { decodeInputLog } from "./input-log.ts";

/** A set that cannot be put into a file; part of a sentence says why. */
export interface Unreadable {
  readonly set_id: string;
  readonly why: string;
}

/** Calibration records, what was in force when, and checks, each in the order in which they were kept. */
export function* calibrationLines(database: Database): Generator<Line> {
  for (const { record } of eachRow<{ record: string }>(database, "calibration", "added", "record")) {
    yield { kind: "calibration", record: JSON.parse(record) as CalibrationRecord };
  }
  const columns = "station, calibration_id, at, performed_by";
  for (const row of eachRow<InForce>(database, "calibration_in_force", "since", columns)) {
    const { station, calibration_id, at, performed_by } = row;
    yield { kind: "in-force", station, calibration_id, at, performed_by };
  }
  for (const { record } of eachRow<{ record: string }>(database, "calibration_check", "added", "record")) {
    yield { kind: "check", record: JSON.parse(record) as CheckRecord };
  }
}

interface InForce {
  readonly station: string;
  readonly calibration_id: string;
  readonly at: string;
  readonly performed_by: string | null;
}

function* eachRow<Row>(database: Database, table: string, key: string, columns: string): Generator<Row> {
  for (let last = 0; ; ) {
    const row = database.get<Row & { readonly export_key: number }>(
      `SELECT ${key} AS export_key, ${columns} FROM ${table} WHERE ${key} > ? ORDER BY ${key} LIMIT 1`,
      last,
    );
    if (row === undefined) return;
    last = row.export_key;
    yield row;
  }
}

/** null: of everybody. */
export function* tagLines(database: Database, of: string | null): Generator<Line> {
  const rows = database.all<Omit<Line & { kind: "tag" }, "kind">>(
    "SELECT tag, trainee, linked_at, performed_by FROM tag WHERE ?1 IS NULL OR trainee = ?1 ORDER BY tag",
    of,
  );
  for (const { tag, trainee, linked_at, performed_by } of rows) {
    yield { kind: "tag", tag, trainee, linked_at, performed_by };
  }
}

/** The newest of each trainee and station; what was taken away is not in it. */
export function* planLines(database: Database, of: string | null): Generator<Line> {
  const rows = database.all<{ plan: string | null }>(
    `SELECT plan FROM plan WHERE (?1 IS NULL OR trainee = ?1) AND saved IN
       (SELECT max(saved) FROM plan GROUP BY trainee, station) ORDER BY trainee, station`,
    of,
  );
  for (const { plan } of rows) if (plan !== null) yield { kind: "plan", plan: JSON.parse(plan) as Plan };
}

interface KeptRow {
  readonly first_set_seq: number;
  readonly set_id: string;
  readonly set_seq: number;
  readonly setup: string;
  readonly log: Uint8Array | null;
}
interface RevisionRow {
  readonly set_seq: number;
  readonly message: string;
  readonly performed_by: string | null;
  readonly revised_at: string | null;
}

/** In the order in which the sets were first kept. */
export function* setLines(database: Database, of: string | null): Generator<SetLine | Unreadable> {
  const whose = of === null ? "" : "AND trainee = ?2";
  for (let last = Number.MIN_SAFE_INTEGER; ; ) {
    const row = database.get<KeptRow>(
      `SELECT first_set_seq, set_id, set_seq, setup, log FROM kept_set LEFT JOIN set_log USING (first_set_seq)
       WHERE first_set_seq > ?1 ${whose} ORDER BY first_set_seq LIMIT 1`,
      ...(of === null ? [last] : [last, of]),
    );
    if (row === undefined) return;
    last = row.first_set_seq;
    yield setLine(database, row);
  }
}

function setLine(database: Database, { set_id, set_seq, setup, log }: KeptRow): SetLine | Unreadable {
  const decoded = log === null ? { ok: false, message: "it has no input log" } : decodeInputLog(log);
  if (log === null || !decoded.ok) return { set_id, why: "message" in decoded ? decoded.message : "" };
  const rows = database.all<RevisionRow>(
    "SELECT set_seq, message, performed_by, revised_at FROM change_log WHERE set_id = ? ORDER BY revision",
    set_id,
  );
  const revisions = rows.flatMap((row) => revisionOf(row) ?? []);
  const highest = revisions.find(({ set }) => set.set_seq === set_seq);
  if (highest === undefined) return { set_id, why: "its text is damaged" };
  const earlier = revisions.filter(({ set }) => set.revision < highest.set.revision);
  return { kind: "set", ...highest, setup, log: Buffer.from(log).toString("base64"), earlier };
}

/** null: the text no longer reads as JSON. */
function revisionOf({ message, performed_by, revised_at }: RevisionRow): RevisionLine | null {
  try {
    return { set: JSON.parse(message) as SetMessage, performed_by, revised_at };
  } catch {
    return null;
  }
}
