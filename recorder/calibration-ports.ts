/** What is kept of calibration: records, which of them is in force, checks, and where the zero stands. Types only. */
import type { CalibrationRecord, CheckRecord } from "../calibration/record.ts";
import type { FoundZero, KeptZero, ToInspect, ZeroCause } from "../calibration/zero/zero-shift.ts";

/** A zero that has moved, and why. */
export interface SavedZero extends KeptZero {
  /** ISO 8601 UTC. */
  readonly at: string;
  readonly cause: ZeroCause;
  /** Who asked: a claim. null: nobody said, or nobody asked. */
  readonly performed_by: string | null;
}

/** A confirmed zero that is still to be looked into, and by which record it was found. */
export interface ZeroMoved extends ToInspect {
  readonly calibration_id: string;
}

/** Which record turns a station's counts into newtons from a moment on. */
export interface PutInForce {
  readonly calibration_id: string;
  /** ISO 8601 UTC. */
  readonly at: string;
  /** A claim; null: nobody said, or of before it was kept. */
  readonly performed_by: string | null;
}
export interface CalibrationToUse extends PutInForce {
  readonly station: string;
}

/** kept: it is new here. known: the very same record was here. differs: another one has its id, and stays as it is. */
export type Imported = "kept" | "known" | "differs";

/** A part of the store; its promises are the whole store's. */
export interface CalibrationStore {
  /** Keeps the record, puts it in force, and writes it as JSON beside the store. */
  saveCalibration(record: CalibrationRecord): Promise<void>;
  calibrationInForce(station: string): Promise<CalibrationRecord | null>;
  /** Newest first. */
  calibrations(station: string): Promise<readonly CalibrationRecord[]>;
  /** One record by its id, for sets that name it. */
  calibration(calibration_id: string): Promise<CalibrationRecord | null>;
  /**
   * Puts a kept record of this station in force. One that is in force already stays so, and nothing is written. null: no such
   * record of this station.
   */
  useCalibration(use: CalibrationToUse): Promise<CalibrationRecord | null>;
  /** Which records were put in force when, newest first. */
  putInForce(station: string): Promise<readonly PutInForce[]>;
  /** Keeps a record of elsewhere or of before, and writes it as JSON beside the store; what is in force stays so. */
  importCalibration(record: CalibrationRecord): Promise<Imported>;
  /** Keeps known loads that were hung to see whether a record holds, and writes them as JSON beside the store. */
  saveCheck(check: CheckRecord): Promise<void>;
  /** Newest first. */
  checks(station: string): Promise<readonly CheckRecord[]>;
  /**
   * By when the record in force is to be looked at: the latest of its own due and of those of its checks, ISO 8601 UTC. null:
   * none has one.
   */
  calibrationDue(station: string): Promise<string | null>;
  /** Where the zero stands now, and a row of its history, in one transaction. */
  saveZero(station: string, zero: SavedZero): Promise<void>;
  zero(station: string): Promise<FoundZero | null>;
  /** What `zero` answers with as long as the zero is of the same record; null: it was inspected. */
  saveZeroMoved(station: string, moved: ZeroMoved | null): Promise<void>;
  /** The newest `limit` movements of the zero, oldest first. */
  zeros(station: string, limit: number): Promise<readonly SavedZero[]>;
}
