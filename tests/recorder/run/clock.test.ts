import { expect, it } from "vitest";
import { hostClock } from "../../../recorder/run/clock.ts";

const TODAY_MS = Date.parse("2026-11-24T10:00:00.000Z");

it("a wall clock nobody vouches for is not synced; one a time service vouches for is, ten seconds later at most", () => {
  const host = { at_ms: 0, says: false };
  const clock = hostClock({ ms: () => host.at_ms, wall_ms: () => TODAY_MS + host.at_ms, synced: () => host.says });
  expect(clock.now()).toEqual({ ms: 0, wall_ms: TODAY_MS, clock_synced: false });
  host.says = true;
  host.at_ms = 9999;
  expect(clock.now().clock_synced).toBe(false);
  host.at_ms = 10_000;
  expect(clock.now()).toEqual({ ms: 10_000, wall_ms: TODAY_MS + 10_000, clock_synced: true });
});

it("a time before this program was written is wrong, whoever vouches for it", () => {
  const clock = hostClock({ ms: () => 0, wall_ms: () => Date.UTC(2000, 0, 1), synced: () => true });
  expect(clock.now().clock_synced).toBe(false);
});
