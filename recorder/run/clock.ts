/** The host's clocks, and whether its wall clock is to be believed: a small computer without a battery starts in the past. */
import { existsSync } from "node:fs";
import type { Now } from "../station/exchange.ts";

/** Made by the time service of the system once it has heard from a server. */
const TIME_SERVICE = "/run/systemd/timesync";
const SYNCED = `${TIME_SERVICE}/synchronized`;
/** No wall clock that shows an earlier time can be right: this program did not exist. */
const NOT_BEFORE_MS = Date.UTC(2026, 10, 1);
const LOOK_EVERY_MS = 10_000;

export interface HostClock {
  now(): Now;
}

export function hostClock(): HostClock {
  let looked_ms = Number.NEGATIVE_INFINITY;
  let service_says = true;
  return {
    now() {
      const ms = performance.now();
      if (ms - looked_ms >= LOOK_EVERY_MS) {
        looked_ms = ms;
        service_says = !existsSync(TIME_SERVICE) || existsSync(SYNCED);
      }
      const wall_ms = Date.now();
      return { ms, wall_ms, clock_synced: service_says && wall_ms >= NOT_BEFORE_MS };
    },
  };
}
