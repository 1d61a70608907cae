/** What the line says, besides readings: who is there, keys, faults, answers, and that everything begins anew. */
import { stepProcedure } from "../../calibration/procedure/procedure.ts";
import { awaitsConfirming } from "../../calibration/zero/zero.ts";
import type { LineEvent, ReadingEvent } from "../../protocol/serial-line/events.ts";
import type { AmplifierFault } from "../../protocol/vocabulary.ts";
import { onHello, refit, watchSettings, withCause } from "./board.ts";
import { carryProcedure, factsOf } from "./calibrating.ts";
import type { Now } from "./exchange.ts";
import { feedEvent } from "./feed.ts";
import { askBoard, refuseAtMachine, tellCommands } from "./host.ts";
import { decideKey, type KeyPress } from "./keys.ts";
import { loseForce } from "./outage.ts";
import { asksBegin, onTag } from "./presented.ts";
import { onReading } from "./readings.ts";
import { interrupted, type SelfTest, withReading, withRejected } from "./self-test-state.ts";
import { newEpoch, resettled } from "./sensor.ts";
import { andThen, NO_BOARD, only, phaseOf, type Station, type Step, takenBy } from "./state.ts";
import { UNREAD } from "./unread.ts";
import { onZero } from "./zeroing.ts";

export function onLineEvent(station: Station, event: LineEvent, now: Now): Step {
  switch (event.kind) {
    case "reading":
      // As it came: what is wrong with it is just what a self-test is to show.
      return onReading(station.self_test === null ? station : sampled(station, station.self_test, event), event, now);
    case "hello":
      return andThen(onHello(station, event.line, event.at_us, now), tellProcedure);
    case "key":
      return event.pressed ? onKey(station, event.key, event.at_us, now) : only(station);
    case "tag":
      return onTag(station, event.tag, event.at_us, now);
    case "fault":
      return onBoardFault(station, event.fault, now);
    case "answer": {
      const { command, error } = event;
      const told = tellCommands(station, { kind: "answer", command, error, now_ms: now.ms });
      return andThen(told, (next) => onSetting(station, next, now));
    }
    case "epoch":
      return onEpoch(station, event.because, now);
    case "identify-wanted":
      return askBoard(station, { kind: "identify" }, now.ms);
    case "rejected":
      return feedEvent(rejected(station), { kind: "rejected", lines: 1 }, now);
  }
}

const sampled = (station: Station, test: SelfTest, { at_us, counts, lost }: ReadingEvent): Station => ({
  ...station,
  self_test: withReading(test, at_us, counts, lost),
});

const rejected = (station: Station): Station =>
  station.self_test === null ? station : { ...station, self_test: withRejected(station.self_test) };

/** Gain or rate may be another now: the board answers between the last reading at the old one and the first at the new. */
function onSetting(was: Station, station: Station, now: Now): Step {
  const { gain, rate } = station.board;
  if (gain === was.board.gain && rate === was.board.rate) return watchSettings(station, now);
  const self_test = interrupted(station.self_test);
  const anew = refit({ ...station, sensor: resettled(station.sensor), self_test }, now);
  return andThen(tellProcedure(anew), (next) => watchSettings(next, now));
}

/** Device time begins anew: a set cannot go on over it, and what the sensor knew is gone. */
function onEpoch(station: Station, because: "opened" | "restarted" | "clock", now: Now): Step {
  const why = {
    opened: "The line was opened again.",
    restarted: "The board was restarted.",
    clock: "The board's clock made no sense.",
  }[because];
  const stopped = feedEvent(station, { kind: "fault", at_us: station.sensor.at_us, fault: "sensor-fault" }, now);
  return andThen(stopped, (next) => {
    const { sensor, faults, zero } = newEpoch(next.sensor, why);
    // Whoever is at the other end now has to say so; what is known of the last one tells whether it is the same.
    const { boot, powered_up_at_us } = next.board;
    const board = { ...NO_BOARD, boot, powered_up_at_us };
    const self_test = interrupted(next.self_test);
    const anew: Station = { ...next, sensor, board, unread: UNREAD, self_test };
    const lifted = faults.length > 0 ? withCause(anew, { amplifier: null }, now) : anew;
    const zeroed = zero.reduce<Step>((step, effect) => andThen(step, (s) => onZero(s, effect, now)), only(lifted));
    return andThen(zeroed, tellEpoch);
  });
}

/** A calibration that is open goes by what the board is now; points taken with another one are gone. */
function tellProcedure(station: Station): Step {
  const { procedure } = station;
  if (procedure.is === "closed") return only(station);
  const { board, amplifier, gain, powered_up_at_us } = factsOf(station);
  const { facts } = procedure;
  const same = facts.board === board && facts.amplifier === amplifier && facts.gain === gain;
  return same && facts.powered_up_at_us === powered_up_at_us ? only(station) : tellEpoch(station);
}

/** What a board says of itself may be the same, or nothing at all: its points are gone with its time. */
function tellEpoch(station: Station): Step {
  const { board, amplifier, gain, powered_up_at_us } = factsOf(station);
  const epoch = { kind: "epoch", board, amplifier, gain, powered_up_at_us } as const;
  return carryProcedure(station, stepProcedure(station.procedure, epoch));
}

function onBoardFault(station: Station, fault: AmplifierFault, now: Now): Step {
  switch (fault) {
    case "amplifier-silent": {
      const detail = "The board hears nothing from the amplifier: check its wires and supply.";
      const event = { kind: "fault", at_us: station.sensor.at_us, fault: "sensor-fault" } as const;
      return loseForce(station, { silence: detail }, event, detail, now);
    }
    case "amplifier-saturated":
      // The readings beside it say so too, and they alone tell a spike, a broken wire and an overload apart.
      return only(station);
    default:
      // A brownout or a watchdog reset is followed by the hello of a new boot; an overrun shows as lost readings.
      return { station, effects: [{ do: "log", level: "warn", text: `The board reports: ${fault}.` }] };
  }
}

function onKey(station: Station, key: number, at_us: number, now: Now): Step {
  const { desk, sensor, configuration } = station;
  const since = (then_us: number | null): number | null => (then_us === null ? null : at_us - then_us);
  const named = desk.last_named;
  const press: KeyPress = {
    key,
    phase: phaseOf(station),
    taken_by: takenBy(station),
    since_end_us: since(desk.last_end_us),
    last_named: named === null ? null : { trainee: named.trainee, since_us: at_us - named.at_us },
    beginning: desk.begins_asked > 0,
    zero_unconfirmed: sensor.zero !== null && awaitsConfirming(sensor.zero),
  };
  const decision = decideKey(press);
  switch (decision.do) {
    case "acknowledge":
      return only(station);
    case "refuse":
      return refuseAtMachine(station, decision.why, now);
    case "ask": {
      const { verb, ...asked } = decision.request;
      const asking = verb === "begin" ? asksBegin(station) : station;
      const args: Record<string, unknown> = { station: configuration.id };
      for (const [name, value] of Object.entries(asked)) if (value !== null) args[name] = value;
      return { station: asking, effects: [{ do: "dispatch", verb, args }] };
    }
  }
}
