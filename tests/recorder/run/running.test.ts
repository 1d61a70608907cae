import { afterEach, beforeEach, expect, it, vi } from "vitest";
import { Running } from "../../../recorder/run/running.ts";

beforeEach(() => vi.useFakeTimers());
afterEach(() => vi.useRealTimers());

function bench() {
  const errors: string[] = [];
  const running = new Running({ error: (_fields: object, message: string) => errors.push(message) } as never);
  return { running, errors };
}

it("what was started last is stopped first, each when the one before it is done, and once", async () => {
  const { running, errors } = bench();
  const order: string[] = [];
  for (const what of ["first", "second"]) {
    running.stopWith(what, 1000, async () => {
      order.push(`${what} begins`);
      await new Promise((resolve) => setTimeout(resolve, 500));
      order.push(`${what} ends`);
    });
  }
  const stopped = Promise.all([running.stop(), running.stop()]);
  await vi.advanceTimersByTimeAsync(1000);
  await stopped;
  expect(order).toEqual(["second begins", "second ends", "first begins", "first ends"]);
  expect([errors, vi.getTimerCount()]).toEqual([[], 0]);
});

it("a part that hangs or fails is said, and keeps no other from stopping", async () => {
  const { running, errors } = bench();
  const stopped: string[] = [];
  running.stopWith("The store", 1500, async () => void stopped.push("store"));
  running.stopWith("The broker's side", 700, () => new Promise(() => {}));
  running.stopWith("Control", 400, async () => {
    throw new Error("no such socket");
  });
  const all = running.stop();
  await vi.advanceTimersByTimeAsync(699);
  expect(stopped).toEqual([]);
  await vi.advanceTimersByTimeAsync(1);
  await all;
  expect(stopped).toEqual(["store"]);
  expect(errors).toEqual(["Control did not stop as it should.", "The broker's side did not stop within 700 ms."]);
});
