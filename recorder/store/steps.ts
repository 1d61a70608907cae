/**
 * The schema as numbered steps, forward only: step n takes a file from version n - 1 to n. A step that was ever released
 * is never edited; a change is a new step at the end, and a test holds the old ones to a frozen copy.
 *
 * `change_log` is the spine: one row for each kept revision (and each erasure), its `set_seq` never used twice, not even
 * after a row is gone, which is what AUTOINCREMENT adds. `kept_set` has one narrow row a set, of its highest revision,
 * with what is asked for; its key is the number the set was first given, because "newest" must not depend on a clock that
 * can jump, nor change when an old set is amended. Messages and logs are in tables of their own, so that looking
 * through many sets reads none of them.
 */

const FIRST = `
CREATE TABLE tidemark_store (
  only INTEGER PRIMARY KEY CHECK (only = 1),
  store_id TEXT NOT NULL,
  schema_version INTEGER NOT NULL
) STRICT;

CREATE TABLE change_log (
  set_seq INTEGER PRIMARY KEY AUTOINCREMENT,
  set_id TEXT NOT NULL,
  revision INTEGER NOT NULL,
  message TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX change_log_by_set ON change_log (set_id, revision);

CREATE TABLE kept_set (
  first_set_seq INTEGER PRIMARY KEY,
  set_id TEXT NOT NULL UNIQUE,
  set_seq INTEGER NOT NULL UNIQUE,
  revision INTEGER NOT NULL,
  station TEXT NOT NULL,
  trainee TEXT,
  exercise TEXT NOT NULL,
  side TEXT,
  style TEXT NOT NULL,
  intent TEXT NOT NULL,
  setup TEXT NOT NULL,
  resting_subtracted INTEGER NOT NULL,
  warm_up INTEGER NOT NULL,
  void INTEGER NOT NULL,
  cut_short INTEGER NOT NULL,
  started_at_ms INTEGER NOT NULL,
  ended_at TEXT NOT NULL,
  best_force_N REAL
) STRICT;
CREATE INDEX kept_set_by_station ON kept_set (station);
CREATE INDEX kept_set_by_station_seq ON kept_set (station, set_seq);
CREATE INDEX kept_set_by_trainee ON kept_set (trainee);
CREATE INDEX kept_set_by_trainee_seq ON kept_set (trainee, set_seq);
CREATE INDEX kept_set_by_trainee_station ON kept_set (trainee, station, set_seq);
CREATE INDEX kept_set_by_start ON kept_set (started_at_ms, set_seq, station, trainee);
CREATE INDEX kept_set_comparable
  ON kept_set (trainee, station, exercise, style, intent, setup, resting_subtracted, side)
  WHERE warm_up = 0 AND void = 0 AND cut_short = 0;

CREATE TABLE set_log (
  first_set_seq INTEGER PRIMARY KEY,
  log BLOB NOT NULL
) STRICT;

CREATE TABLE outbox (
  outbox_row INTEGER PRIMARY KEY AUTOINCREMENT,
  station TEXT NOT NULL,
  set_id TEXT NOT NULL,
  topic TEXT NOT NULL,
  payload TEXT NOT NULL
) STRICT;
CREATE INDEX outbox_by_station ON outbox (station);

CREATE TABLE running_part (
  set_id TEXT NOT NULL,
  part INTEGER NOT NULL,
  station TEXT NOT NULL,
  log BLOB NOT NULL,
  PRIMARY KEY (set_id, part)
) STRICT;

CREATE TABLE calibration (
  added INTEGER PRIMARY KEY AUTOINCREMENT,
  calibration_id TEXT NOT NULL UNIQUE,
  station TEXT NOT NULL,
  record TEXT NOT NULL
) STRICT;
CREATE INDEX calibration_by_station ON calibration (station);

CREATE TABLE calibration_in_force (
  since INTEGER PRIMARY KEY AUTOINCREMENT,
  station TEXT NOT NULL,
  calibration_id TEXT NOT NULL,
  at TEXT NOT NULL
) STRICT;
CREATE INDEX calibration_in_force_by_station ON calibration_in_force (station);

CREATE TABLE zero_state (
  station TEXT PRIMARY KEY,
  calibration_id TEXT NOT NULL,
  shift_counts REAL NOT NULL,
  asked_shift_counts REAL NOT NULL
) STRICT;

CREATE TABLE inspect_latch (
  station TEXT PRIMARY KEY,
  since TEXT NOT NULL,
  detail TEXT NOT NULL
) STRICT;

CREATE TABLE retained_topic (
  topic TEXT PRIMARY KEY
) STRICT;
`;

/**
 * Who changed a kept set and when, and whose it was in each revision: an old one names a trainee as much as the newest
 * does. A text that no longer reads as JSON must not keep a store from being opened.
 */
const SECOND = `
ALTER TABLE change_log ADD COLUMN trainee TEXT;
ALTER TABLE change_log ADD COLUMN performed_by TEXT;
ALTER TABLE change_log ADD COLUMN revised_at TEXT;
UPDATE change_log SET trainee = CASE WHEN json_valid(message) THEN json_extract(message, '$.trainee') END;
CREATE INDEX change_log_by_trainee ON change_log (trainee);

CREATE TABLE tag (
  tag TEXT PRIMARY KEY,
  trainee TEXT NOT NULL,
  linked_at TEXT NOT NULL,
  performed_by TEXT
) STRICT;
CREATE INDEX tag_by_trainee ON tag (trainee);
`;

/** Who put a record in force, the loads that showed whether one still holds, how the zero came to stand where it does, and whether somebody must look. */
const THIRD = `
ALTER TABLE calibration_in_force ADD COLUMN performed_by TEXT;

CREATE TABLE calibration_check (
  added INTEGER PRIMARY KEY AUTOINCREMENT,
  check_id TEXT NOT NULL UNIQUE,
  calibration_id TEXT NOT NULL,
  station TEXT NOT NULL,
  record TEXT NOT NULL
) STRICT;
CREATE INDEX calibration_check_by_station ON calibration_check (station);
CREATE INDEX calibration_check_by_calibration ON calibration_check (calibration_id);

CREATE TABLE zero_history (
  entry INTEGER PRIMARY KEY AUTOINCREMENT,
  station TEXT NOT NULL,
  at TEXT NOT NULL,
  calibration_id TEXT NOT NULL,
  shift_counts REAL NOT NULL,
  asked_shift_counts REAL NOT NULL,
  cause TEXT NOT NULL,
  performed_by TEXT
) STRICT;
CREATE INDEX zero_history_by_station ON zero_history (station);

CREATE TABLE zero_moved (
  station TEXT PRIMARY KEY,
  calibration_id TEXT NOT NULL,
  since TEXT NOT NULL,
  detail TEXT NOT NULL
) STRICT;
`;

/**
 * Plans, each as often as it was saved; what a trend needs of a set, so that no message has to be read for it; and erasures,
 * which name whom they are about only until they are done.
 */
const FOURTH = `
ALTER TABLE kept_set ADD COLUMN exercise_label TEXT;
ALTER TABLE kept_set ADD COLUMN fatigue_threshold REAL;
ALTER TABLE kept_set ADD COLUMN reached_threshold INTEGER;
ALTER TABLE kept_set ADD COLUMN impulse_N_s REAL;
ALTER TABLE kept_set ADD COLUMN duration_s REAL;
ALTER TABLE kept_set ADD COLUMN mean_force_N REAL;
ALTER TABLE kept_set ADD COLUMN mean_effort_force_N REAL;
ALTER TABLE kept_set ADD COLUMN force_loss REAL;
ALTER TABLE kept_set ADD COLUMN expanded_uncertainty_N REAL;
ALTER TABLE kept_set ADD COLUMN calibration_id TEXT;
ALTER TABLE kept_set ADD COLUMN zero_shift_N REAL;
ALTER TABLE kept_set ADD COLUMN best_unconfirmed INTEGER;
ALTER TABLE kept_set ADD COLUMN simulated INTEGER;
ALTER TABLE kept_set ADD COLUMN pain REAL;
ALTER TABLE kept_set ADD COLUMN ended_because TEXT;
UPDATE kept_set SET (exercise_label, fatigue_threshold, reached_threshold, impulse_N_s, duration_s, mean_force_N,
    mean_effort_force_N, force_loss, expanded_uncertainty_N, calibration_id, zero_shift_N, best_unconfirmed, simulated, pain,
    ended_because) =
  (SELECT message ->> '$.exercise_label', message ->> '$.fatigue_threshold', message ->> '$.reached_threshold',
     message ->> '$.impulse_N_s', message ->> '$.duration_s', message ->> '$.mean_force_N',
     message ->> '$.mean_effort_force_N', message ->> '$.force_loss', message ->> '$.expanded_uncertainty_N',
     message ->> '$.calibration_id', message ->> '$.zero_shift_N', message ->> '$.quality.best_unconfirmed', message ->> '$.simulated',
     message ->> '$.pain', message ->> '$.ended_because'
   FROM change_log WHERE change_log.set_seq = kept_set.set_seq AND json_valid(message));

CREATE INDEX kept_set_by_seq ON kept_set (set_seq, started_at_ms, station, trainee, side, style, exercise);
CREATE INDEX kept_set_by_exercise ON kept_set (exercise, set_seq, started_at_ms, station, side, style);
CREATE INDEX kept_set_series
  ON kept_set (trainee, station, exercise, style, intent, side, started_at_ms, first_set_seq, setup, resting_subtracted)
  WHERE warm_up = 0 AND void = 0 AND cut_short = 0 AND best_force_N IS NOT NULL;
CREATE INDEX kept_set_pain ON kept_set (trainee, station, started_at_ms, pain, ended_because)
  WHERE pain IS NOT NULL OR ended_because = 'pain';
CREATE INDEX kept_set_here ON kept_set (trainee, station, started_at_ms, warm_up, void, style);

CREATE TABLE plan (
  saved INTEGER PRIMARY KEY AUTOINCREMENT,
  station TEXT NOT NULL,
  trainee TEXT NOT NULL,
  saved_at TEXT NOT NULL,
  performed_by TEXT,
  plan TEXT
) STRICT;
CREATE INDEX plan_by_station ON plan (station, trainee, saved);
CREATE INDEX plan_by_trainee ON plan (trainee, station, saved);

ALTER TABLE change_log ADD COLUMN erased INTEGER;
CREATE INDEX change_log_erased ON change_log (set_seq, set_id) WHERE erased = 1;
CREATE INDEX change_log_by_performer ON change_log (performed_by) WHERE performed_by IS NOT NULL;
CREATE INDEX outbox_by_set ON outbox (set_id);

CREATE TABLE erasure (
  erasure INTEGER PRIMARY KEY AUTOINCREMENT,
  trainee TEXT,
  ended_before TEXT,
  asked_at TEXT NOT NULL,
  performed_by TEXT,
  sets INTEGER NOT NULL DEFAULT 0,
  done_at TEXT
) STRICT;
`;

export const STEPS: readonly string[] = [FIRST, SECOND, THIRD, FOURTH];

/** Tables whose size goes with the length of sets, not only their number: too long to read through at every start. */
export const WIDE_TABLES: ReadonlySet<string> = new Set(["change_log", "set_log"]);
