/**
 * A host that stalls must not change a set: the board's bytes wait, and time is the device's. A real link with its real
 * clock over a port in memory, on which a board speaks twice as fast as the clock goes, so that the stall is 1.4 s of its
 * time; against the same lines read without any clock.
 */
import { expect, it, onTestFinished } from "vitest";
import { linkOf } from "../../../recorder/run/station-link.ts";
import type { StationInput } from "../../../recorder/station/exchange.ts";
import { FakePort } from "../serial/fake-port.ts";
import { stationConfiguration } from "../station/bench.ts";
import { FakeBoard } from "../station/fake-board.ts";
import { countsAt, PERIOD_US, PULLED_AT, RATE_HZ, setOf, type Timed, timedStation } from "./timed-hold.ts";

/** In the fall of the force, where the floor is crossed. */
const STALLED_AT = PULLED_AT + 4.1 * RATE_HZ;
const STALL_MS = 700;
const BOARD_SPEED = 2;

const BOARD = "press-left";
const holding = (write: (text: string) => void): Timed =>
  timedStation({ configuration: stationConfiguration({ style: "hold" }), board: BOARD, arms: true, write });

it("700 ms in which nothing runs, in the middle of a set, change nothing of its result", async () => {
  const expected = setOf(holding, BOARD);
  expect(expected).toMatchObject({ stop_reason: "hold-below-floor", reached_threshold: true });

  const port = new FakePort();
  const board = new FakeBoard({ board: BOARD });
  const station = holding((text) => link.write(text));
  const taken: StationInput["kind"][] = [];
  const take = (input: StationInput): void => {
    taken.push(input.kind);
    station.take(input);
  };
  const link = linkOf({ take }, "/dev/press", async () => port);
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
      take({ kind: "tick" });
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
  expect(taken).not.toContain("silence");
  expect(taken).not.toContain("closed");
  expect(station.kept).toEqual([expected]);
}, 20_000);
