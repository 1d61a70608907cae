/**
 * The self-test of a station: it takes the station for some seconds of device time and answers with what came, and with
 * what is known of the station. A faulty amplifier is just what it is to look at, so only a line without any readings is
 * refused. It always answers: a silent line ends it, and so does a device clock that falls behind the host's.
 *
 * The tracked zero goes on meanwhile: raw counts do not depend on it.
 */

import { zeroInUse_counts } from "../../calibration/zero/zero.ts";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import { troubleOf } from "./board.ts";
import { sensorBody } from "./bodies.ts";
import { type Ask, instant, type Now, type StationInput } from "./exchange.ts";
import { askBoard } from "./host.ts";
import { takenAlready } from "./readiness.ts";
import { newSelfTest, readingsOf, type SelfTest, type SelfTestEnd } from "./self-test-state.ts";
import { andThen, only, type Station, type Step } from "./state.ts";
import { FIRST_READING_MS, tickUnread } from "./unread.ts";

/** Two readings of the slowest amplifier are a tenth of a second apart. */
const SILENT_MS = 2000;
/** How far the board's clock may fall behind ours until nobody waits for it any more. */
const BEHIND_MS = 4000;
const LAMP_MS = 1000;

export function askSelfTest(station: Station, ask: Ask, now: Now): Step {
  const { request_id, request } = ask;
  if (request.verb !== "self-test") return only(station);
  const why = cannotTest(station);
  if (why !== null) return { station, effects: [{ do: "answer", request_id, outcome: why }] };
  const { duration_s, lamps } = request.args;
  const begun: Station = { ...station, self_test: newSelfTest(request_id, duration_s, instant(now)) };
  const lit = lamps && station.configuration.dialect === "tm1";
  return lit ? lightLamp(begun, 1, now) : only(begun);
}

function cannotTest(station: Station): Outcome | null {
  const taken = takenAlready(station);
  if (taken !== null) return { ok: false, error: taken };
  const { line, closed, silence } = station.desk.causes;
  const none = line ?? closed ?? silence;
  return none === null
    ? null
    : refused("sensor-fault", none, "There are no readings to look at until that is put right.");
}

/** After each step of a station that has one: whether it is over, and what its lamps show. */
export function watchSelfTest(station: Station, input: StationInput["kind"], now: Now): Step {
  const { self_test: was } = station;
  if (was === null) return only(station);
  const ticked = input === "tick" ? tick(was, now) : was;
  const test: SelfTest = { ...ticked, ended: ticked.ended ?? endOf(station, ticked, input) };
  const step: Step =
    input === "tick" ? turnLamps({ ...station, self_test: test }, now) : only({ ...station, self_test: test });
  return andThen(step, (next) => (isOver(next.self_test) ? finish(next, now) : only(next)));
}

const tick = (test: SelfTest, { ms }: Now): SelfTest => ({
  ...test,
  unread: tickUnread(test.unread, ms),
  passed: tickUnread(test.passed, ms),
});

function endOf({ desk }: Station, test: SelfTest, input: StationInput["kind"]): SelfTestEnd | null {
  const { line, closed, silence } = desk.causes;
  if (line !== null || closed !== null || input === "stopping") return "interrupted";
  if (silence !== null) return "silent";
  const { unread, passed, readings, duration_s } = test;
  if (unread.waited_ms >= (readings === 0 ? FIRST_READING_MS : SILENT_MS)) return "silent";
  return passed.waited_ms >= 1000 * duration_s + BEHIND_MS ? "interrupted" : null;
}

/** With all its readings it may still have a lamp to show. */
function isOver(test: SelfTest | null): boolean {
  if (test === null || test.ended === null) return false;
  return test.ended !== "complete" || test.lamps === null || test.lamps.lit === null;
}

function lightLamp(station: Station, lamp: 1 | 2, now: Now): Step {
  const { self_test } = station;
  if (self_test === null) return only(station);
  const answered_ms = self_test.lamps?.answered_ms ?? { 1: null, 2: null };
  const lit: Station = { ...station, self_test: { ...self_test, lamps: { lit: lamp, since_ms: now.ms, answered_ms } } };
  return askBoard(lit, { kind: "lamp", lamp, to: "on" }, now.ms);
}

/** As it would be without the test. */
function restoreLamp(station: Station, lamp: 1 | 2, now: Now): Step {
  const { lamp_1, lamp_2 } = station.lamps;
  return askBoard(station, { kind: "lamp", lamp, to: lamp === 1 ? lamp_1 : lamp_2 }, now.ms);
}

function turnLamps(station: Station, now: Now): Step {
  const test = station.self_test;
  const lamps = test?.lamps ?? null;
  if (test === null || lamps === null || lamps.lit === null || now.ms - lamps.since_ms < LAMP_MS) return only(station);
  const { lit } = lamps;
  return andThen(restoreLamp(station, lit, now), (next) =>
    lit === 1 ? lightLamp(next, 2, now) : only({ ...next, self_test: { ...test, lamps: { ...lamps, lit: null } } }),
  );
}

function finish(station: Station, now: Now): Step {
  const test = station.self_test;
  if (test === null) return only(station);
  const { request_id, lamps } = test;
  const outcome = done(resultOf(station, test));
  const free: Station = { ...station, self_test: null };
  const restored = lamps === null || lamps.lit === null ? only(free) : restoreLamp(free, lamps.lit, now);
  return andThen(restored, (next) => ({ station: next, effects: [{ do: "answer", request_id, outcome }] }));
}

function resultOf(station: Station, test: SelfTest): object {
  const { configuration, board, sensor } = station;
  const { scale, zero } = sensor;
  const fits = scale !== null && scale.mismatch === null && zero !== null;
  const { zero_shift_N, noise_N, reading_rate_Hz, firmware } = sensorBody(station);
  const { lamps } = test;
  return {
    station: configuration.id,
    since: test.since,
    duration_s: test.duration_s,
    ended: test.ended,
    ...readingsOf(test),
    readings_lost: test.lost,
    lines_rejected: test.rejected,
    dialect: configuration.dialect,
    serial_port: configuration.serial_port,
    board: board.hello?.board ?? null,
    firmware,
    amplifier: board.hello?.amplifier ?? null,
    gain: board.gain,
    rate: board.rate,
    configured_rate_Hz: configuration.rate,
    reading_rate_Hz,
    counts_per_N: fits ? scale.zero_facts.counts_per_N : null,
    zero_counts: fits ? zeroInUse_counts(zero, scale.zero_facts) : null,
    zero_shift_N,
    noise_N,
    cell_capacity_N: configuration.cell_capacity_N,
    working_force_N: configuration.working_force_N,
    trouble: troubleOf(station),
    lamps: lamps === null ? null : ([1, 2] as const).map((lamp) => ({ lamp, answered_ms: lamps.answered_ms[lamp] })),
  };
}
