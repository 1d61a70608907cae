/** One reading of the amplifier, all the way: sensor, faults, guards, calibration, running set, live values. */
import type { AmplifierFaultEvent } from "../../calibration/amplifier-faults.ts";
import { stepProcedure } from "../../calibration/procedure/procedure.ts";
import type { ReadingEvent } from "../../protocol/serial-line/events.ts";
import { reviseZeroShift } from "./after-set.ts";
import { clear, raise } from "./alarms.ts";
import { isAccepted, withCause } from "./board.ts";
import { liveBody } from "./bodies.ts";
import { carryProcedure } from "./calibrating.ts";
import { instant, type Now, type StationEffect } from "./exchange.ts";
import { feedEvent, feedReading } from "./feed.ts";
import { showLamp } from "./host.ts";
import { loseForce } from "./outage.ts";
import { type OverloadEvent, overloaded } from "./overload.ts";
import { readSensor, wasNearlyFull } from "./sensor.ts";
import { andThen, isIdle, type LiveWindow, NOTHING, only, type Station, type Step, withDesk } from "./state.ts";
import { readAgain } from "./unread.ts";
import { onZero } from "./zeroing.ts";

export function onReading(was: Station, reading: ReadingEvent, now: Now): Step {
  // Between bytes that are no text a line may pass for a reading.
  if (!isAccepted(was) || was.desk.causes.line !== null) return only(was);
  const { configuration } = was;
  const { sensor, faults, overloads, zero, drifted } = readSensor(was.sensor, reading, {
    cell_capacity_N: configuration.cell_capacity_N,
    force_limit_N: configuration.force_limit_N,
    idle: isIdle(was),
    watch_stuck: configuration.dialect === "tm1",
  });
  let step: Step = {
    station: {
      configuration,
      simulated: was.simulated,
      line: was.line,
      commands: was.commands,
      lamps: was.lamps,
      board: was.board,
      sensor,
      unread: readAgain(was.unread),
      set: was.set,
      procedure: was.procedure,
      self_test: was.self_test,
      live: widened(was.live, sensor.force_N),
      desk: was.desk,
    },
    effects: NOTHING,
  };
  if (was.desk.causes.silence !== null) step = andThen(step, (next) => only(withCause(next, { silence: null }, now)));
  for (const fault of faults) step = andThen(step, (next) => onAmplifierFault(next, fault, now));
  for (const overload of overloads) step = andThen(step, (next) => onOverload(next, overload, now));
  for (const effect of zero) step = andThen(step, (next) => onZero(next, effect, now));
  if (drifted !== null) step = andThen(step, (next) => reviseZeroShift(next, drifted));
  if (was.set !== null) {
    const { at_us, counts, muscle_action, lost } = reading;
    if (lost > 0) step = andThen(step, (next) => feedEvent(next, { kind: "lost", lines: lost }, now));
    step = andThen(step, (next) => feedReading(next, at_us, counts, muscle_action, now));
  } else if (was.procedure.is === "open" && !Number.isNaN(sensor.median_counts)) {
    step = andThen(step, calibrateWith);
  }
  return andThen(step, (next) => liveWhenDue(next, now));
}

function calibrateWith(station: Station): Step {
  const { at_us, median_counts } = station.sensor;
  const stepped = stepProcedure(station.procedure, { kind: "reading", at_us, counts: median_counts });
  return carryProcedure(station, stepped);
}

function onAmplifierFault(station: Station, { fault, on, detail }: AmplifierFaultEvent, now: Now): Step {
  if (!on) return only(withCause(station, { amplifier: null }, now));
  const { cell_capacity_N } = station.configuration;
  const full = fault === "saturated" && wasNearlyFull(station.sensor, cell_capacity_N);
  const { at_us } = station.sensor;
  const event = { kind: "fault", at_us, fault: full ? "overload" : "sensor-fault" } as const;
  const lost = loseForce(station, { amplifier: detail }, event, detail, now);
  if (!full) return lost;
  return andThen(lost, (next) => {
    const sensor = { ...next.sensor, overload: overloaded(next.sensor.overload) };
    return onOverload({ ...next, sensor }, { do: "overload", force_N: cell_capacity_N }, now);
  });
}

function onOverload(station: Station, event: OverloadEvent, now: Now): Step {
  const limit_N = station.configuration.force_limit_N;
  const force = `${Math.round(event.force_N)} N`;
  const { alarms } = station.desk;
  switch (event.do) {
    case "warn":
      if (!event.on) return only(withDesk(station, { alarms: clear(alarms, "overload") }));
      return showLamp(station, { kind: "play", pattern: "warning", now_ms: now.ms }, now.ms);
    case "overload": {
      const detail = `The force reached ${force}; the load path is made for ${limit_N} N.`;
      const told = withDesk(station, { alarms: raise(alarms, "overload", detail, instant(now)) });
      return feedEvent(told, { kind: "fault", at_us: station.sensor.at_us, fault: "overload" }, now);
    }
    case "inspect": {
      const detail = `The force reached ${force}, above 125 % of ${limit_N} N: out of use until a technician has inspected it.`;
      // What is latched already has been since then, here and in the store.
      const since = alarms.find(({ code }) => code === "inspect")?.since ?? instant(now);
      const latched = withDesk(station, { alarms: raise(alarms, "inspect", detail, since, true) });
      return { station: latched, effects: [{ do: "save-inspect", latched: { since, detail } }] };
    }
  }
}

function widened(live: LiveWindow, force_N: number | null): LiveWindow {
  if (force_N === null) return live;
  const { min_N, max_N } = live;
  if (min_N !== null && max_N !== null && force_N >= min_N && force_N <= max_N) return live;
  return {
    seq: live.seq,
    due_us: live.due_us,
    said_ms: live.said_ms,
    min_N: min_N === null || force_N < min_N ? force_N : min_N,
    max_N: max_N === null || force_N > max_N ? force_N : max_N,
  };
}

function liveWhenDue(station: Station, now: Now): Step {
  return station.sensor.at_us < station.live.due_us ? only(station) : sayLive(station, now);
}

/** Publishes the live values now, and plans the next. */
export function sayLive(station: Station, now: Now): Step {
  const { live, sensor, configuration } = station;
  const body = liveBody(station);
  const every_us = 1e6 / configuration.live_rate_Hz;
  // On a grid, so that the rate holds on average; after a pause it begins anew.
  const next_us = live.due_us + every_us;
  const due_us = next_us > sensor.at_us ? next_us : sensor.at_us + every_us;
  const effect: StationEffect = { do: "publish", topic: "live", body };
  const said: LiveWindow = { seq: live.seq + 1, due_us, said_ms: now.ms, min_N: null, max_N: null };
  return { station: { ...station, live: said }, effects: [effect] };
}
