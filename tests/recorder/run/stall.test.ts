/**
 * A host that stalls must not change a set: the board's bytes wait, and time is the device's. A real link with its real
 * clock over a port in memory, on which a board speaks twice as fast as the clock goes, so that the stall is 1.4 s of its
 * time; against the same lines read without any clock.
 */
import { expect, it, onTestFinished } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { StationLoop } from "../../../recorder/run/station-loop.ts";
import { openLink } from "../../../recorder/serial/link.ts";
import type { StationInput } from "../../../recorder/station/exchange.ts";
import { setMessageOf } from "../../../recorder/station/set-message.ts";
import { newStation } from "../../../recorder/station/state.ts";
import { FakePort } from "../serial/fake-port.ts";
import {
  BEGINS_MS,
  COUNTS_PER_N,
  holdCurve,
  KEPT,
  KNOWN,
  record,
  stationConfiguration,
  ZERO_COUNTS,
} from "../station/bench.ts";
import { FakeBoard } from "../station/fake-board.ts";

const RATE_HZ = 80;
const PERIOD_US = 1e6 / RATE_HZ;
/** The set is begun with this reading, and the pull with this one. */
const BEGUN_AT = 200;
const PULLED_AT = 230;
/** In the fall of the force, where the floor is crossed. */
const STALLED_AT = PULLED_AT + 4.1 * RATE_HZ;
const STALL_MS = 700;
const BOARD_SPEED = 2;

const curve = holdCurve(1000, 3, 250);
const countsAt = (reading: number): number =>
  Math.round(ZERO_COUNTS + curve(Math.max(0, reading - PULLED_AT) / RATE_HZ) * COUNTS_PER_N) + (reading % 5);

interface Recorder {
  readonly loop: StationLoop;
  readonly taken: StationInput["kind"][];
  take(input: StationInput): void;
  readonly kept: SetMessage[];
}

/** A station that arms itself with its 200th reading. */
function recorder(write: (text: string) => void): Recorder {
  const kept: SetMessage[] = [];
  const taken: StationInput["kind"][] = [];
  let readings = 0;
  const loop = new StationLoop(newStation(stationConfiguration({ style: "hold" }), false), {
    // The wall clock stands still, so that even the instants of both runs are the same.
    now: () => ({ ms: performance.now(), wall_ms: BEGINS_MS, clock_synced: true }),
    signal: (effect) => {
      if (effect.do === "write") write(effect.text);
    },
    keep: (effect) => {
      if (effect.do === "keep") kept.push(setMessageOf(effect.path, effect.result, KEPT));
    },
  });
  const take = (input: StationInput): void => {
    taken.push(input.kind);
    loop.take(input);
    if (input.kind !== "line" || !input.text.startsWith("R,")) return;
    readings += 1;
    if (readings !== BEGUN_AT) return;
    const request = { verb: "begin", args: { station: "leg-press", trainee: "otter-14" } } as const;
    const ask = { request_id: "r", request, by: null, door: "socket" } as const;
    loop.take({ kind: "begin", ask, history: KNOWN, set_id: "01930000-0000-7000-8000-000000000001" });
  };
  take({ kind: "calibration", record: record(), zero: null });
  return { loop, taken, take, kept };
}

/** The same lines, one after the other, with nobody's clock. */
function unstalled(): SetMessage {
  const board = new FakeBoard();
  const station = recorder((text) => board.hear(text));
  let reading = 0;
  board.out.push("");
  station.take({ kind: "opened" });
  while (station.kept.length === 0) {
    for (let text = board.out.shift(); text !== undefined; text = board.out.shift()) {
      station.take({ kind: "line", text, arrived_at_us: reading * PERIOD_US });
    }
    board.pass(PERIOD_US);
    reading += 1;
    board.read(countsAt(reading));
  }
  return station.kept[0] as SetMessage;
}

it("700 ms in which nothing runs, in the middle of a set, change nothing of its result", async () => {
  const expected = unstalled();
  expect(expected).toMatchObject({ stop_reason: "hold-below-floor", reached_threshold: true });

  const port = new FakePort();
  const board = new FakeBoard();
  const station = recorder((text) => link.write(text));
  const link = openLink({
    path: "/dev/press",
    openPort: async () => port,
    handlers: {
      onOpened: () => station.take({ kind: "opened" }),
      onLine: (text, arrived_at_us) => station.take({ kind: "line", text, arrived_at_us }),
      onClosed: () => station.take({ kind: "closed" }),
      onTrouble: (sentence) => station.take({ kind: "trouble", sentence }),
      onSilence: () => station.take({ kind: "silence" }),
    },
  });
  onTestFinished(() => link.close());

  let reading = 0;
  let heard = 0;
  let stalled_ms = 0;
  const began_ms = performance.now();
  board.out.push("");
  await new Promise<void>((resolve) => {
    const pump = setInterval(() => {
      board.hear(port.heard.slice(heard));
      heard = port.heard.length;
      while (reading < ((performance.now() - began_ms) / 1000) * RATE_HZ * BOARD_SPEED) {
        board.pass(PERIOD_US);
        reading += 1;
        board.read(countsAt(reading));
      }
      for (const text of board.out.splice(0)) port.say(`${text}\n`);
      station.take({ kind: "tick" });
      if (reading >= STALLED_AT && stalled_ms === 0) {
        const from_ms = performance.now();
        while (performance.now() - from_ms < STALL_MS);
        stalled_ms = performance.now() - from_ms;
      }
      if (station.kept.length === 0 && reading < 900) return;
      clearInterval(pump);
      resolve();
    }, 5);
  });

  expect(stalled_ms).toBeGreaterThanOrEqual(STALL_MS);
  expect(station.taken).not.toContain("silence");
  expect(station.taken).not.toContain("closed");
  expect(station.kept).toEqual([expected]);
}, 20_000);
