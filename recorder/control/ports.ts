/** What the doors need done for them: by the stations, by the engine for the record, and by the log. Types only. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { StationTopic } from "../../protocol/messages/topics.ts";
import type { Outcome } from "../../protocol/requests/response.ts";
import type { ArgsOf, BeginOptions, StationRequest } from "../../protocol/requests/verbs.ts";
import type { Configuration } from "../configuration/schema.ts";
import type { InputLog } from "../ports.ts";

/** Where a request came in. */
export type Door = "key" | "socket" | "mqtt" | "simulated";

/** Who asks: a code is a claim, stored as one. */
export interface Asker {
  readonly performed_by: string | null;
  readonly door: Door;
}

/** What a watcher hears: a message as it is published. */
export interface WatchEvent {
  readonly station: string;
  readonly topic: StationTopic;
  readonly message: object;
}

export interface Stations {
  ids(): readonly string[];
  /** One station, or all of them. The dispatcher asks only for stations among `ids()`. */
  status(station?: string): unknown;
  /** A refusal is an outcome; a rejection is a broken program. Answers when the thing is done. */
  ask(station: string, request: StationRequest, asker: Asker): Promise<Outcome>;
  /** Hears the current `state` and `sensor` first, then every message as it happens. Returns how to stop. */
  watch(station: string | undefined, listener: (event: WatchEvent) => void): () => void;
}

/** The record, as people may change it. A refusal is an outcome; a rejection is a broken program. */
export interface Records {
  /** `within`: a set of this station only; another's is as good as none. */
  amend(args: ArgsOf<"amend">, within?: string): Promise<Outcome>;
  saveTag(args: ArgsOf<"tag-save">): Promise<Outcome>;
  importCalibration(calibration: Readonly<Record<string, unknown>>): Promise<Outcome>;
  plans(args: ArgsOf<"plan">): Promise<Outcome>;
  savePlan(args: ArgsOf<"plan-save">): Promise<Outcome>;
  trend(args: ArgsOf<"trend">): Promise<Outcome>;
}

/** The record as a whole: copied, put back, moved, and one trainee's part of it removed. */
export interface Care {
  backup(args: ArgsOf<"backup">): Promise<Outcome>;
  restore(args: ArgsOf<"restore">): Promise<Outcome>;
  erase(args: ArgsOf<"erase">): Promise<Outcome>;
  exportTo(args: ArgsOf<"export">): Promise<Outcome>;
  importFrom(path: string, performed_by: string | null): Promise<Outcome>;
}

/** A kept set's force over time, in columns: `elapsed_s` from the first onset (negative before it), force N. */
export interface Curve {
  readonly elapsed_s: readonly number[];
  /** null: no valid reading there. */
  readonly force_N: readonly (number | null)[];
}

/** Turns a set's input log into its curve, by the calibration record the set names. */
export type CurveOf = (log: InputLog, message: SetMessage) => Promise<Curve>;

/** The part of a pino logger that control writes to. */
export interface Log {
  warn(fields: object, message: string): void;
  error(fields: object, message: string): void;
}

/** One that also takes what was done, for whoever asks later who did it. */
export interface AuditLog extends Log {
  info(fields: object, message: string): void;
}

export interface RunOptions {
  /** null: none is needed, the run is simulated. */
  readonly configuration: Configuration | null;
  /** Simulated only: one set a station as fast as it can, then 0. */
  readonly once: boolean;
  readonly debug: boolean;
  /** Simulated only: hears every message, for the eyes of whoever started it. */
  readonly show: (event: WatchEvent) => void;
  /** One line for whoever started it. */
  readonly say: (line: string) => void;
  /** Somebody wants it to stop. */
  readonly stopped: AbortSignal;
}
/** Runs the service until it is told to stop; resolves with the exit code. */
export type RunService = (options: RunOptions) => Promise<number>;

export interface ReplayChanges {
  readonly fatigue_threshold?: number | undefined;
  readonly options?: BeginOptions | undefined;
}
/** The set as the engine judges its input log with other settings; a plain Error says in a sentence why there is none. */
export type ReplaySet = (message: SetMessage, log: InputLog, changes: ReplayChanges) => SetMessage;
