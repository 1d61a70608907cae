/**
 * One station as a pure reducer: `(station, input, now) -> (station, effects)`. The file to read first in this room.
 *
 * Device time decides everything about force and sets; `now` holds the host's clocks and is used only for what the host
 * itself does: lamps, answers of the board, how long a finished set stays on show, and the date a set is given.
 */
import { stepProcedure } from "../../calibration/procedure/procedure.ts";
import { readLine } from "../../protocol/serial-line/reader.ts";
import { lostAfter_s } from "../set-engine/setup.ts";
import { clear, raise } from "./alarms.ts";
import { onBegin } from "./beginning.ts";
import { isAccepted, mismatchOf, refit, watchName, watchSettings, withCause } from "./board.ts";
import { sensorBody, sensorChanges, stateBody } from "./bodies.ts";
import { carryProcedure } from "./calibrating.ts";
import { forgetDue, watchDue } from "./calibration-due.ts";
import { withoutErased } from "./erased.ts";
import { instant, type Now, type StationEffect, type StationInput } from "./exchange.ts";
import { feedEvent } from "./feed.ts";
import { showLamp, tellCommands } from "./host.ts";
import { limitsOf } from "./limits.ts";
import { onLineEvent } from "./line-events.ts";
import { loseForce } from "./outage.ts";
import { onRefused, onTagOwner } from "./presented.ts";
import { isMeasured } from "./readiness.ts";
import { sayLive } from "./readings.ts";
import { onAccept, onAsk } from "./requests.ts";
import { withRevision } from "./revised.ts";
import { watchSelfTest } from "./self-testing.ts";
import { scaleOf, withRecord } from "./sensor.ts";
import { andThen, only, phaseOf, type Station, type Step, withDesk, withLine } from "./state.ts";
import { FIRST_READING_MS, tickUnread, UNREAD } from "./unread.ts";
import { onCheckKept, onUse } from "./using.ts";
import { tellZero } from "./zeroing.ts";

const ZERO_ALARMS = ["zero-out-of-range", "zero-suspect", "zero-moved"] as const;

export function stepStation(station: Station, input: StationInput, now: Now): Step {
  const taken = take(station, input, now);
  const tested = taken.station.self_test !== null;
  const step = tested ? andThen(taken, (next) => watchSelfTest(next, input.kind, now)) : taken;
  return mayShow(station, step, now) ? andThen(step, (next) => sayChanges(next, now)) : step;
}

const LOOK_EVERY_MS = 1000;

/** Whether `state` or `sensor` may have changed: most readings change neither, and comparing costs more than a reading. */
function mayShow(was: Station, { station, effects }: Step, now: Now): boolean {
  if (station.desk !== was.desk || station.board !== was.board || station.sensor.scale !== was.sensor.scale)
    return true;
  if ((station.self_test === null) !== (was.self_test === null)) return true;
  if (station.procedure.is !== was.procedure.is || phaseOf(station) !== phaseOf(was)) return true;
  if (isMeasured(station) !== isMeasured(was) || station.line.mode !== was.line.mode) return true;
  if (now.ms - station.desk.looked_ms >= LOOK_EVERY_MS) return true;
  return effects.some(({ do: what }) => what === "answer");
}

function take(station: Station, input: StationInput, now: Now): Step {
  switch (input.kind) {
    case "line":
    case "opened":
    case "closed":
      return onLine(station, input, now);
    case "silence":
      return onSilence(station, now);
    case "trouble": {
      const { sentence } = input;
      const told: StationEffect[] = sentence === null ? [] : [{ do: "log", level: "warn", text: sentence }];
      return andThen({ station, effects: told }, (next) => onTrouble(next, sentence, now));
    }
    case "tick":
      return onTick(station, now);
    case "stopping":
      return feedEvent(station, { kind: "interrupted", at_us: station.sensor.at_us }, now);
    case "calibration": {
      const { record, zero } = input;
      const mismatch = mismatchOf(record, station);
      const scale = scaleOf(record, station.configuration.cell_capacity_N, mismatch, input.due);
      const dropped = tellZero(station, { kind: "interrupted", detail: "Another calibration is in force." }, now);
      return andThen(dropped, (next) => {
        // They were said of the former record's zero.
        const none = ZERO_ALARMS.reduce((left, code) => clear(left, code, true), next.desk.alarms);
        const moved = zero?.calibration_id === record.calibration_id ? zero.moved : undefined;
        const alarms = moved === undefined ? none : raise(none, "zero-moved", moved.detail, moved.since, true);
        const sensor = withRecord(next.sensor, scale, zero);
        const { state: procedure } = stepProcedure(next.procedure, { kind: "stored", ok: true });
        const scaled = withDesk({ ...next, sensor, procedure }, { alarms, putting_in_force: false });
        return only(refit(forgetDue(scaled), now));
      });
    }
    case "calibration-not-kept":
      return andThen(carryProcedure(station, stepProcedure(station.procedure, { kind: "stored", ok: false })), (next) =>
        only(next.desk.putting_in_force ? withDesk(next, { putting_in_force: false }) : next),
      );
    case "check-kept":
      return onCheckKept(station, input.due, now);
    case "use":
      return onUse(station, input.ask, input.record, now);
    case "took-up":
      return only(withDesk(station, { last_ended_at: input.last_ended_at }));
    case "ask":
      return onAsk(station, input.ask, now);
    case "begin":
      return onBegin(station, input, now);
    case "accept":
      return onAccept(station, input.ask, input.calibration_id, now);
    case "key-refused":
      return onRefused(station, input, now);
    case "tag-owner":
      return onTagOwner(station, input.tag, input.linked, now);
    case "revised":
      return only(withRevision(station, input.set));
    case "erased":
      return only(withoutErased(station, input));
    case "inspect": {
      const { alarms } = station.desk;
      return only(withDesk(station, { alarms: raise(alarms, "inspect", input.detail, input.since, true) }));
    }
    case "storage":
      return only(withAlarm(station, "storage", input.trouble, now));
    case "announcing":
      return only(withAlarm(station, input.code, input.trouble, now));
  }
}

function withAlarm(
  station: Station,
  code: "storage" | "not-authorised" | "recorder-conflict",
  trouble: string | null,
  now: Now,
): Station {
  const { alarms } = station.desk;
  return withDesk(station, {
    alarms: trouble === null ? clear(alarms, code) : raise(alarms, code, trouble, instant(now)),
  });
}

function onLine(
  station: Station,
  input: Extract<StationInput, { kind: "line" | "opened" | "closed" }>,
  now: Now,
): Step {
  const { state, events } = readLine(station.line, input);
  let step = only(state === station.line ? station : withLine(station, state));
  if (input.kind !== "line") {
    step = andThen(step, (next) => tellCommands(next, { kind: input.kind, now_ms: now.ms }));
  }
  if (input.kind === "opened")
    step = andThen(step, (next) => only(withCause(next, { closed: null, silence: null }, now)));
  if (input.kind === "closed") step = andThen(step, (next) => onClosed(next, now));
  if (input.kind === "line") step = andThen(step, tellLimits);
  for (const event of events) step = andThen(step, (next) => onLineEvent(next, event, now));
  return isOverdue(step.station) ? andThen(step, (next) => onSilence(next, now)) : step;
}

/**
 * Whether the board goes on without a reading: a board whose amplifier died may still answer, and then the line is never
 * quiet. In its own time, so a host that stalled is not at fault; in doubt, where time is not sure, in lines set aside.
 */
function isOverdue(station: Station): boolean {
  const { line, sensor, desk } = station;
  if (line.dialect !== "tm1" || desk.causes.silence !== null || Number.isNaN(sensor.before1)) return false;
  const rate_Hz = rateOf_Hz(station);
  const lost_s = lostAfter_s(rate_Hz);
  return line.mode === "doubt" ? line.heard >= lost_s * rate_Hz : line.at_us - sensor.at_us >= lost_s * 1e6;
}

const SLOWEST_RATE_HZ = 10;
const rateOf_Hz = ({ sensor, board }: Station): number => sensor.rate.rate_Hz ?? board.rate ?? SLOWEST_RATE_HZ;

/** What comes of a line in trouble is no measurement, though bytes may come for ever. */
function onTrouble(station: Station, line: string | null, now: Now): Step {
  if (line === null) return only(withCause(station, { line }, now));
  const event = { kind: "fault", at_us: station.sensor.at_us, fault: "sensor-fault" } as const;
  return loseForce(station, { line }, event, line, now);
}

/** What nobody can see here is said once, before anybody relies on it. */
function tellLimits(station: Station): Step {
  const limits = limitsOf(station);
  if (station.desk.told_limits || limits.length === 0) return only(station);
  const text = `This line cannot show: ${limits.join("; ")}.`;
  return { station: withDesk(station, { told_limits: true }), effects: [{ do: "log", level: "warn", text }] };
}

/** Nothing more comes from this epoch, so a set in it is over. */
function onClosed(station: Station, now: Now): Step {
  const closed = "The line was closed; it is being opened again.";
  const event = { kind: "fault", at_us: station.sensor.at_us, fault: "sensor-fault" } as const;
  return loseForce(station, { closed }, event, station.desk.causes.line ?? closed, now);
}

function onSilence(station: Station, now: Now): Step {
  const detail = "No readings come from the board: check its supply, its cable and the amplifier.";
  if (station.desk.causes.silence !== null) return only(station);
  const event = { kind: "silence", at_us: station.sensor.at_us } as const;
  return loseForce(station, { silence: detail }, event, detail, now);
}

/** A message a second even where nothing is measured; a finished set leaves the stage; lamps and board get their time. */
const LIVE_AT_LEAST_MS = 900;

function onTick(station: Station, now: Now): Step {
  let step = showLamp(station, { kind: "tick", now_ms: now.ms }, now.ms);
  step = andThen(step, (next) => tellCommands(next, { kind: "tick", now_ms: now.ms }));
  step = andThen(step, (next) => watchName(next, now));
  step = andThen(step, (next) => watchSettings(next, now));
  step = andThen(step, (next) => watchReadings(next, now));
  step = andThen(step, (next) => only(watchDue(next, now)));
  const { finished } = station.desk;
  if (finished !== null && now.ms >= finished.until_ms) {
    step = andThen(step, (next) => only(withDesk(next, { finished: null })));
  }
  if (now.ms - station.live.said_ms >= LIVE_AT_LEAST_MS) step = andThen(step, (next) => sayLive(next, now));
  return step;
}

/** Time without a reading counts where one may be expected: the line is open, and whoever is on it is known. */
function watchReadings(station: Station, now: Now): Step {
  const { desk, sensor, unread } = station;
  const awaited = desk.causes.line === null && desk.causes.closed === null && isAccepted(station);
  const waiting: Station = { ...station, unread: tickUnread(awaited ? unread : UNREAD, now.ms) };
  const none = Number.isNaN(sensor.before1);
  const late = awaited && unread.waited_ms >= (none ? FIRST_READING_MS : 1000 * lostAfter_s(rateOf_Hz(station)));
  return late ? onSilence(waiting, now) : only(waiting);
}

const SENSOR_EVERY_MS = 60_000;

/** Publishes `state` and `sensor` where they differ from what was said last; `sensor` once a minute as well. */
function sayChanges(station: Station, now: Now): Step {
  const effects: StationEffect[] = [];
  let { said_state, said_sensor, sensor_said_ms } = station.desk;
  const state = stateBody(station);
  const state_text = JSON.stringify(state);
  if (state_text !== said_state) {
    effects.push({ do: "publish", topic: "state", body: state });
    said_state = state_text;
  }
  const sensor = sensorBody(station);
  const sensor_text = sensorChanges(sensor);
  if (sensor_text !== said_sensor || now.ms - sensor_said_ms >= SENSOR_EVERY_MS) {
    effects.push({ do: "publish", topic: "sensor", body: sensor });
    said_sensor = sensor_text;
    sensor_said_ms = now.ms;
  }
  return { station: withDesk(station, { said_state, said_sensor, sensor_said_ms, looked_ms: now.ms }), effects };
}
