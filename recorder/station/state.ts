/**
 * One station: its line, its sensor, the set that is running, and the desk where everything lies that changes seldom.
 * A value: a step returns another one.
 */
import { NO_PROCEDURE } from "../../calibration/procedure/procedure.ts";
import type { OpenProcedure, Procedure } from "../../calibration/procedure/procedure-state.ts";
import type { SetMessage } from "../../protocol/messages/set.ts";
import { type Commands, NO_COMMANDS } from "../../protocol/serial-line/commands.ts";
import { LAMPS_OFF, type Lamps } from "../../protocol/serial-line/lamps.ts";
import type { HelloLine } from "../../protocol/serial-line/lines.ts";
import { type LineSource, newLineSource } from "../../protocol/serial-line/reader.ts";
import type { Phase, StopReason } from "../../protocol/vocabulary.ts";
import type { StationConfiguration } from "../configuration/schema.ts";
import { enginePhase } from "../set-engine/view.ts";
import type { Alarms } from "./alarms.ts";
import type { StationEffect } from "./exchange.ts";
import type { SelfTest } from "./self-test-state.ts";
import { NO_SENSOR, type Sensor } from "./sensor.ts";
import type { SetLog } from "./set-log.ts";
import type { SetPath } from "./set-path.ts";
import { UNREAD, type Unread } from "./unread.ts";

/** A set from arming to its end. */
export interface RunningSet {
  readonly path: SetPath;
  readonly log: SetLog;
  readonly comparable: SetMessage | null;
  /** Who waits for the resting force; null: nobody. */
  readonly resting_request: string | null;
}

/** What was last at this station, as `state` shows it while finished. */
export interface Finished {
  readonly path: SetPath;
  readonly comparable: SetMessage | null;
  readonly stop_reason: StopReason;
  readonly until_ms: number;
}

export interface BoardState {
  readonly hello: HelloLine | null;
  /** As the last hello or answer said; null: not known. */
  readonly gain: number | null;
  readonly rate: number | null;
  readonly boot: string | null;
  /** Device time of the board's start; null: not known, taken as long ago. */
  readonly powered_up_at_us: number | null;
  /** Why this board is not the station's; null: it is, or nobody has said. */
  readonly refused: string | null;
  /** That it does not say who it is, though asked; null: it has, or was not asked for long. */
  readonly unnamed: string | null;
  /** A gain or rate it did not take, why, and when it is asked again, host's ms; null: none. */
  readonly unset: { readonly why: string; readonly again_at_ms: number } | null;
}

/** Why there is no force, one sentence each; null: not for this reason. */
export interface Causes {
  /** What the link says of the line, open or not. */
  readonly line: string | null;
  readonly closed: string | null;
  readonly silence: string | null;
  readonly amplifier: string | null;
  readonly board: string | null;
  readonly setting: string | null;
}

export interface LiveWindow {
  readonly seq: number;
  readonly due_us: number;
  readonly said_ms: number;
  readonly min_N: number | null;
  readonly max_N: number | null;
}

/** Whose each board is: the id of the station by the name of its board. */
export type BoardHomes = Readonly<Record<string, string>>;

export const boardHomes = (stations: readonly StationConfiguration[]): BoardHomes =>
  Object.fromEntries(stations.flatMap(({ id, board }) => (board === undefined ? [] : [[board, id]])));

export interface Desk {
  readonly alarms: Alarms;
  readonly causes: Causes;
  readonly finished: Finished | null;
  readonly last_ended_at: string | null;
  /** Device time of the last end of any set. */
  readonly last_end_us: number | null;
  /** Of the last `begin`, or of a tag shown since. */
  readonly last_named: { readonly trainee: string | null; readonly at_us: number } | null;
  readonly last_tag: { readonly tag: string; readonly at_us: number } | null;
  /** A tag's owner is asked of the record. */
  readonly looking_up: boolean;
  /** Begins that keys and tags have asked for and that are not answered yet. */
  readonly begins_asked: number;
  /** A kept record is being put in force: nothing is measured by the one that stands. */
  readonly putting_in_force: boolean;
  /** Tags that were shown while a set ran, or an earlier one was looked up, since the start. */
  readonly tags_ignored: number;
  /** Of the newest `state` and `sensor` published, to publish changes only. */
  readonly said_state: string;
  readonly said_sensor: string;
  readonly sensor_said_ms: number;
  readonly board_homes: BoardHomes;
  /** What the line cannot show was written down. */
  readonly told_limits: boolean;
  /** When both were last compared with what they would be now. */
  readonly looked_ms: number;
}

export interface Station {
  readonly configuration: StationConfiguration;
  readonly simulated: boolean;
  readonly line: LineSource;
  readonly commands: Commands;
  readonly lamps: Lamps;
  readonly board: BoardState;
  readonly sensor: Sensor;
  readonly unread: Unread;
  readonly set: RunningSet | null;
  /** Beside the desk: while a point is captured it changes with every reading. */
  readonly procedure: Procedure;
  /** Beside the desk for the same reason; null: none runs. */
  readonly self_test: SelfTest | null;
  readonly live: LiveWindow;
  readonly desk: Desk;
}

export const NO_BOARD: BoardState = {
  hello: null,
  gain: null,
  rate: null,
  boot: null,
  powered_up_at_us: null,
  refused: null,
  unnamed: null,
  unset: null,
};

export function newStation(
  configuration: StationConfiguration,
  simulated: boolean,
  board_homes: BoardHomes = {},
): Station {
  return {
    configuration,
    simulated,
    line: newLineSource(configuration.dialect),
    commands: NO_COMMANDS,
    lamps: LAMPS_OFF,
    board: NO_BOARD,
    sensor: NO_SENSOR,
    unread: UNREAD,
    set: null,
    procedure: NO_PROCEDURE,
    self_test: null,
    live: { seq: 0, due_us: 0, said_ms: Number.NEGATIVE_INFINITY, min_N: null, max_N: null },
    desk: {
      alarms: [],
      causes: {
        line: null,
        closed: "The line has not been opened yet.",
        silence: null,
        amplifier: null,
        board: null,
        setting: null,
      },
      finished: null,
      last_ended_at: null,
      last_end_us: null,
      last_named: null,
      last_tag: null,
      looking_up: false,
      begins_asked: 0,
      putting_in_force: false,
      tags_ignored: 0,
      said_state: "",
      said_sensor: "",
      sensor_said_ms: Number.NEGATIVE_INFINITY,
      board_homes,
      told_limits: false,
      looked_ms: Number.NEGATIVE_INFINITY,
    },
  };
}

export interface Step {
  readonly station: Station;
  readonly effects: readonly StationEffect[];
}

export const NOTHING: readonly StationEffect[] = Object.freeze([]);
export const only = (station: Station): Step => ({ station, effects: NOTHING });

/** Goes on from one step to the next, keeping the effects of both in order. */
export function andThen(step: Step, next: (station: Station) => Step): Step {
  const after = next(step.station);
  if (step.effects.length === 0) return after;
  if (after.effects.length === 0) return { station: after.station, effects: step.effects };
  return { station: after.station, effects: [...step.effects, ...after.effects] };
}

export const withDesk = (station: Station, change: Partial<Desk>): Station => ({
  ...station,
  desk: { ...station.desk, ...change },
});

export function phaseOf({ set, desk }: Station): Phase {
  if (set !== null) return enginePhase(set.path.engine) ?? "idle";
  return desk.finished === null ? "idle" : "finished";
}

/** Written out, as it is done for every line. */
export function withLine(station: Station, line: LineSource): Station {
  return {
    configuration: station.configuration,
    simulated: station.simulated,
    line,
    commands: station.commands,
    lamps: station.lamps,
    board: station.board,
    sensor: station.sensor,
    unread: station.unread,
    set: station.set,
    procedure: station.procedure,
    self_test: station.self_test,
    live: station.live,
    desk: station.desk,
  };
}

/** A technician has the station: why keys and tags are refused there; null: nobody has. */
export function takenBy({ procedure, self_test }: Station): string | null {
  if (procedure.is === "open") return "a calibration is under way here";
  return self_test === null ? null : "a self-test is running here";
}

export const openProcedure = ({ procedure }: Station): OpenProcedure | null =>
  procedure.is === "open" ? procedure : null;

export const isIdle = ({ set, procedure }: Station): boolean => set === null && procedure.is === "closed";
