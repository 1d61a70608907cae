/** The host's clocks, and whether its wall clock is to be believed: a small computer without a battery starts in the past. */
import type { Moment } from "../mqtt/envelope.ts";
import type { Now } from "../station/exchange.ts";
import { timeService } from "./time-service.ts";

/** No wall clock that shows an earlier time can be right: this program did not exist. */
const NOT_BEFORE_MS = Date.UTC(2026, 10, 1);
const LOOK_EVERY_MS = 10_000;

export interface HostClock {
  now(): Now;
}

/** What a host says of its time. */
export interface TimeSource {
  ms(): number;
  wall_ms(): number;
  /** A time service has set the clock. Where nobody says so it is not known, and what is not known is not claimed. */
  synced(): boolean;
}

function thisHost(): TimeSource {
  const synced = timeService();
  const ms = (): number => performance.now();
  return { ms, wall_ms: () => Date.now(), synced: () => synced(ms()) };
}

export function hostClock(source: TimeSource = thisHost()): HostClock {
  let looked_ms = Number.NEGATIVE_INFINITY;
  let synced = false;
  return {
    now() {
      const ms = source.ms();
      if (ms - looked_ms >= LOOK_EVERY_MS) {
        looked_ms = ms;
        synced = source.synced();
      }
      const wall_ms = source.wall_ms();
      return { ms, wall_ms, clock_synced: synced && wall_ms >= NOT_BEFORE_MS };
    },
  };
}

/** The instant `by_ms` after one, ISO 8601 UTC. */
export const later = (than: string, by_ms: number): string => new Date(Date.parse(than) + by_ms).toISOString();

/** The wall clock's part of it, as the broker's side wants it. */
export const momentOf = ({ wall_ms, clock_synced }: Now): Moment => ({ at_ms: wall_ms, clock_synced });
