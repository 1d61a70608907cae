/**
 * How fast device time passes for whoever reads a simulated station.
 *
 * At most 50 ms of device time are handed out in one turn of the event loop. A host that answers within the turn in which
 * it got the bytes is therefore heard within 50 ms of device time, however fast the gym runs.
 */
import { performance } from "node:perf_hooks";
import { setImmediate, setTimeout } from "node:timers/promises";
import type { RunningStation } from "./gym.ts";

export interface Pace {
  /** Someone starts to read: catches up with what nobody read. */
  opened(station: RunningStation): void;
  /** Moves the station on by what is due, and waits where nothing is. */
  move(station: RunningStation, signal: AbortSignal): Promise<void>;
}

/** What `realTime` needs of the world. */
export interface Clock {
  /** Never goes back. */
  now_ms(): number;
  /** Rejects when the signal says so. */
  sleep(for_ms: number, signal: AbortSignal): Promise<unknown>;
}

const HANDED_OUT_US = 50_000;
/** A host that was away for longer (a sleeping laptop) finds the gym where it left it, not hours later. */
const LONGEST_CATCH_UP_US = 5_000_000;

const SYSTEM_CLOCK: Clock = {
  now_ms: () => performance.now(),
  sleep: (for_ms, signal) => setTimeout(for_ms, undefined, { signal }),
};

/** Times real time. A quick computer would run ahead of what a line is taken at, and be called a flood. */
const FASTEST = 100;
/** What a slow stretch may be made up for by. */
const CREDIT_US = 2_000_000;

/** As fast as the reader reads, but for a bound no line comes near; nobody reading, time stands still. */
export function flatOut(clock: Clock = SYSTEM_CLOCK): Pace {
  /** By when, on the clock, each station would have come so far at the bound. */
  const reached_ms = new WeakMap<RunningStation, number>();
  return {
    opened: () => {},
    move: async (station, signal) => {
      await setImmediate();
      const now_ms = clock.now_ms();
      const earliest_ms = now_ms - CREDIT_US / 1000 / FASTEST;
      const due_ms = Math.max(earliest_ms, reached_ms.get(station) ?? earliest_ms);
      if (due_ms > now_ms) await clock.sleep(Math.ceil(due_ms - now_ms), signal);
      reached_ms.set(station, due_ms + HANDED_OUT_US / 1000 / FASTEST);
      station.run(station.now_us + HANDED_OUT_US);
    },
  };
}

/** A device second a second. The board goes on while nobody reads; what it says then is lost, as on a real line. */
export function realTime(clock: Clock = SYSTEM_CLOCK): Pace {
  const powered_ms = new WeakMap<RunningStation, number>();
  const owed_us = (station: RunningStation): number => {
    const now_ms = clock.now_ms();
    const since_ms = powered_ms.get(station) ?? now_ms - station.now_us / 1000;
    const behind_us = (now_ms - since_ms) * 1000 - station.now_us;
    const forgiven_us = Math.max(0, behind_us - LONGEST_CATCH_UP_US);
    powered_ms.set(station, since_ms + forgiven_us / 1000);
    return behind_us - forgiven_us;
  };
  return {
    opened: (station) => {
      const first = !powered_ms.has(station);
      station.run(station.now_us + owed_us(station));
      // The boot hello of a station that was just switched on is still to come.
      if (!first) station.take();
    },
    move: async (station, signal) => {
      const behind_us = owed_us(station);
      const wait_us = station.due_us - station.now_us - behind_us;
      if (wait_us > 0) await clock.sleep(Math.ceil(wait_us / 1000), signal);
      else await setImmediate();
      station.run(station.now_us + Math.min(owed_us(station), HANDED_OUT_US));
    },
  };
}
