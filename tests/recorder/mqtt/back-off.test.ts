import fc from "fast-check";
import { expect, test } from "vitest";
import { BACK_OFF, failuresAfter, wait_ms } from "../../../recorder/mqtt/back-off.ts";

test("1 s, doubling, up to a minute", () => {
  expect([1, 2, 3, 4, 5, 6, 7, 8, 1000].map((failures) => wait_ms(failures, 0) / 1000)).toEqual([
    1, 2, 4, 8, 16, 32, 60, 60, 60,
  ]);
});

test("up to a fifth of it at random, never sooner", () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 1e6 }), fc.double({ min: 0, max: 1, noNaN: true }), (failures, random) => {
      const least_ms = wait_ms(failures, 0);
      expect(wait_ms(failures, random)).toBeGreaterThanOrEqual(least_ms);
      expect(wait_ms(failures, random)).toBeLessThanOrEqual(least_ms * 1.2);
    }),
  );
  expect(wait_ms(1, 0.5)).toBe(1100);
});

test.each([
  [0, 0, 1],
  [3, 0, 4],
  [3, BACK_OFF.steady_ms - 1, 4],
  [3, BACK_OFF.steady_ms, 1],
  [3, BACK_OFF.steady_ms + 1, 1],
])("after %i failures and %i ms up there are %i", (failures, up_ms, after) => {
  expect(failuresAfter(failures, up_ms)).toBe(after);
});

test("a day without a broker is under 1,450 tries", () => {
  let tries = 0;
  for (let elapsed_ms = 0; elapsed_ms < 86_400_000; tries += 1) elapsed_ms += wait_ms(tries + 1, 0);
  expect(tries).toBeLessThan(1450);
});
