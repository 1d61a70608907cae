/**
 * Who is at the other end of the line, and whether its counts may be turned into force: the station's own board, with
 * the amplifier and gain its record was taken with. Another one is never a force.
 */
import type { CalibrationRecord } from "../../calibration/record.ts";
import { WARM_UP_US } from "../../calibration/warm-up.ts";
import type { HelloLine } from "../../protocol/serial-line/lines.ts";
import { clear, raise } from "./alarms.ts";
import { instant, type Now, type StationEffect } from "./exchange.ts";
import { ASK_AGAIN_MS, askBoard } from "./host.ts";
import { withMismatch } from "./sensor.ts";
import { andThen, type BoardState, type Causes, only, type Station, type Step, withDesk } from "./state.ts";

/** The board has said who it is. */
export function onHello(station: Station, hello: HelloLine, at_us: number, now: Now): Step {
  const known = station.board.boot === hello.boot ? station.board.powered_up_at_us : bootedAt_us(hello, at_us);
  const refused = strangerOn(station, hello.board);
  const board: BoardState = {
    hello,
    gain: hello.gain,
    rate: hello.rate,
    boot: hello.boot,
    powered_up_at_us: known,
    refused,
    unnamed: null,
    unset: isAsSet(station.configuration, hello) ? null : station.board.unset,
  };
  const news: StationEffect[] = [
    {
      do: "log",
      level: refused === null ? "info" : "warn",
      text: refused ?? `The board is ${hello.board}, firmware ${hello.firmware}.`,
    },
    { do: "expect-period", period_s: 1 / Math.max(1, hello.rate) },
  ];
  const causes = { board: refused, setting: board.unset?.why ?? null };
  const step: Step = { station: withCause({ ...station, board }, causes, now), effects: news };
  const asked = refused === null ? andThen(step, (next) => askSettings(next, now)) : step;
  return andThen(asked, (next) => only(refit(next, now)));
}

/** Why the board of this name is not the station's own, in one sentence; null: it is, or any will do. */
function strangerOn({ configuration, desk }: Station, board: string): string | null {
  const { id, board: expected } = configuration;
  if (board === expected) return null;
  const home = Object.hasOwn(desk.board_homes, board) ? desk.board_homes[board] : undefined;
  const own = expected === undefined ? "" : `; this station's is ${expected}`;
  if (home !== undefined && home !== id) {
    return `This is ${board}, the board of the station ${home}${own}: the cables are swapped, put each where it belongs.`;
  }
  if (expected === undefined) return null;
  return `The board on this line says it is ${board}${own}: put that one on, or give the station this one.`;
}

const isAsSet = (
  wanted: { readonly gain: number; readonly rate: number },
  is: { readonly gain: number | null; readonly rate: number | null },
): boolean => is.gain === wanted.gain && is.rate === wanted.rate;

function askSettings(station: Station, now: Now): Step {
  const { gain, rate } = station.configuration;
  const { board } = station;
  let step = only(station);
  if (board.gain !== gain) step = andThen(step, (next) => askBoard(next, { kind: "gain", gain }, now.ms));
  if (board.rate !== rate) step = andThen(step, (next) => askBoard(next, { kind: "rate", rate }, now.ms));
  return step;
}

/** That the board does not say who it is, is a cause until its hello comes. */
export function watchName(station: Station, now: Now): Step {
  const { unnamed } = station.board;
  const told = unnamed === null || station.desk.causes.board !== null;
  return only(told ? station : withCause(station, { board: unnamed }, now));
}

/** What became of asking for gain and rate: a cause where it failed, asked again by and by. */
export function watchSettings(station: Station, now: Now): Step {
  const { board, configuration, desk } = station;
  const unset = isAsSet(configuration, board) ? null : board.unset;
  const setting = unset?.why ?? null;
  let step = only(unset === board.unset ? station : { ...station, board: { ...board, unset } });
  if (setting !== desk.causes.setting) step = andThen(step, (next) => only(withCause(next, { setting }, now)));
  if (unset === null || now.ms < unset.again_at_ms) return step;
  const later = { ...unset, again_at_ms: now.ms + ASK_AGAIN_MS };
  return andThen(step, (next) => askSettings({ ...next, board: { ...next.board, unset: later } }, now));
}

/**
 * When the board was started, on the source's time: its clock counts from its start. One that shows more than the
 * warm-up is warm. One that shows less is taken for cold, and may have wrapped instead: every 71.6 minutes its clock
 * looks as after a start for a quarter of an hour, and a recorder that was not there cannot tell.
 */
function bootedAt_us(hello: HelloLine, at_us: number): number | null {
  return hello.t_us < WARM_UP_US ? at_us - hello.t_us : null;
}

/** Readings are taken only from a board that has said who it is, and is the right one. */
export const isAccepted = ({ configuration, board }: Station): boolean =>
  configuration.dialect === "bare" || (board.hello !== null && board.refused === null);

/** Whether the record in force fits what is on the line; says so as an alarm. */
export function refit(station: Station, now: Now): Station {
  const { scale } = station.sensor;
  if (scale === null) return station;
  const mismatch = mismatchOf(scale.record, station);
  const { alarms } = station.desk;
  const told =
    mismatch === null
      ? clear(alarms, "calibration-mismatch")
      : raise(alarms, "calibration-mismatch", mismatch, instant(now));
  const fitted = { ...station, sensor: withMismatch(station.sensor, mismatch) };
  return told === alarms ? fitted : withDesk(fitted, { alarms: told });
}

export function mismatchOf(record: CalibrationRecord, { board, configuration }: Station): string | null {
  if (configuration.dialect !== "bare" && board.hello === null) return null;
  // A line that names nothing fits only itself: whatever is on it now may be anything.
  const differs = (what: string, is: string | number | null, was: string | number | null): string | null => {
    if (is === was) return null;
    const taken = was === null ? `on a line that names no ${what}` : `with ${what} ${was}`;
    const found = is === null ? "this one names none" : `this is ${is}`;
    return `The calibration was taken ${taken}, and ${found}: calibrate, or put it back.`;
  };
  return (
    differs("board", board.hello?.board ?? null, record.board) ??
    differs("amplifier", board.hello?.amplifier ?? null, record.amplifier) ??
    differs("gain", board.gain, record.gain) ??
    otherCell(record, configuration)
  );
}

/** The line cannot say which cell hangs on it; what the configuration says of it must not contradict the record. */
function otherCell(
  { cell: was = null, cell_capacity_N }: CalibrationRecord,
  configuration: Station["configuration"],
): string | null {
  const { cell: is = null } = configuration;
  if (was !== null && is !== null && was !== is) {
    return `The calibration was taken with cell ${was}, and the configuration says this is ${is}: calibrate, or put it back.`;
  }
  if (cell_capacity_N === configuration.cell_capacity_N) return null;
  return (
    `The calibration was taken with a cell of ${cell_capacity_N} N, and the configuration says ` +
    `${configuration.cell_capacity_N} N: calibrate, or put cell_capacity_N right.`
  );
}

/** Why there is no force, in one sentence; null: line, board and amplifier are well. */
export function troubleOf(station: Station): string | null {
  const { configuration, line, board, sensor } = station;
  const cause = causeOf(station.desk.causes);
  if (cause !== null) return cause;
  if (!isAccepted(station)) return "The board has not said yet who it is.";
  if (line.mode === "doubt") return "The board's count or clock made no sense, and it has not said yet who it is.";
  // On a line without a hello nothing is asked for, and nothing known.
  if (board.hello !== null && !isAsSet(configuration, board)) {
    return `The board is being set to gain ${configuration.gain} and ${configuration.rate} readings a second.`;
  }
  return Number.isNaN(sensor.before1) ? "No reading has come yet." : null;
}

const causeOf = ({ line, closed, board, silence, amplifier, setting }: Causes): string | null =>
  line ?? closed ?? board ?? silence ?? amplifier ?? setting;

/** Notes or lifts why there is no force; the alarm follows whichever cause stands first. */
export function withCause(station: Station, change: Partial<Causes>, now: Now): Station {
  const causes: Causes = { ...station.desk.causes, ...change };
  const why = causeOf(causes);
  const { alarms } = station.desk;
  const told = why === null ? clear(alarms, "sensor-fault") : raise(alarms, "sensor-fault", why, instant(now));
  return withDesk(station, { causes, alarms: told });
}
