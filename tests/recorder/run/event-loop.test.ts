/** How late the program is, by standing still on purpose. */
import { setTimeout as passed } from "node:timers/promises";
import { expect, it, onTestFinished } from "vitest";
import { EventLoop } from "../../../recorder/run/event-loop.ts";

const STOOD_MS = 300;

it("a program that stood still knows for how long, in s, and forgets it after the minute that follows", async () => {
  const made_ms = performance.now();
  const loop = new EventLoop();
  onTestFinished(() => loop.stop());
  // It looks every 20 ms, and knows nothing before its second look.
  await passed(50);
  const began_ms = performance.now();
  while (performance.now() - began_ms < STOOD_MS);
  await passed(1);
  const all_s = (performance.now() - made_ms) / 1000;
  const { p50_s, max_s } = loop.delay;
  // Wherever in its interval it was when the program stood still.
  expect(max_s).toBeGreaterThan(STOOD_MS / 1000 - 0.025);
  expect(max_s).toBeLessThan(all_s);
  expect(p50_s).toBeLessThanOrEqual(max_s);
  loop.turn();
  expect(loop.delay.max_s).toBe(max_s);
  loop.turn();
  expect(loop.delay).toEqual({ p50_s: 0, p99_s: 0, max_s: 0 });
});
