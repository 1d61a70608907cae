import { afterEach, beforeEach, expect, test, vi } from "vitest";
import { PresenceKeeper } from "../../../recorder/mqtt/presence-keeper.ts";
import { SAMPLES } from "../../protocol/messages/samples.ts";

const OTHER = "0d0f3a2e-77aa-4c11-8e0a-5b1c2d3e4f50";
const STARTED = SAMPLES.presence.since;
const OURS = JSON.stringify(SAMPLES.presence);
const WILL = JSON.stringify({ ...SAMPLES.presence, online: false, reason: "lost" });

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

function keeper() {
  const said: string[] = [];
  let others = 0;
  const keeper = new PresenceKeeper({
    ours: OURS,
    publish: (payload) => said.push(payload),
    onAnother: () => {
      others += 1;
    },
  });
  return { keeper, said, others: () => others };
}

test("says ours once, and leaves its own echo alone", () => {
  const { keeper: one, said } = keeper();
  one.heard(OURS, true);
  one.heard(OURS, false);
  expect(said).toEqual([OURS]);
});

test("what stood there before our first word needs no answer, what comes after it does", () => {
  const { keeper: one, said } = keeper();
  one.heard(WILL, true);
  expect(said).toHaveLength(1);
  one.heard(WILL, false);
  expect(said).toEqual([OURS, OURS]);
});

test("at once, then once a second for as long as somebody goes on, then no more", () => {
  const { keeper: one, said } = keeper();
  for (let ms = 0; ms < 10_000; ms += 100) {
    one.heard("", false);
    vi.advanceTimersByTime(100);
  }
  vi.advanceTimersByTime(60_000);
  // Our first word, the answer at 0 s, and one at each full second from 1 s to 10 s.
  expect(said).toHaveLength(12);
});

const NEWER = JSON.stringify({ ...SAMPLES.presence, at: "2026-11-20T10:00:00.000Z", health: null });

test("something else to say is said once; echoes of what was said before it are left alone, later ones are not", () => {
  const { keeper: one, said, others } = keeper();
  one.say(NEWER);
  one.say(NEWER);
  one.heard(OURS, false);
  one.heard(NEWER, false);
  expect(said).toEqual([OURS, NEWER]);
  // Somebody has put our old word back.
  one.heard(OURS, false);
  expect(said).toEqual([OURS, NEWER, NEWER]);
  one.heard(WILL, false);
  vi.advanceTimersByTime(1000);
  expect(said).toEqual([OURS, NEWER, NEWER, NEWER]);
  expect(others()).toBe(0);
});

test("nothing is said after a stop", () => {
  const { keeper: one, said } = keeper();
  one.heard(WILL, false);
  one.heard(WILL, false);
  one.stop();
  vi.advanceTimersByTime(5000);
  expect(said).toHaveLength(2);
});

test.each<[string, string, number]>([
  ["our own will", WILL, 0],
  ["our former life, before we started", JSON.stringify({ ...SAMPLES.presence, boot: OTHER, at: STARTED }), 0],
  ["another one since", JSON.stringify({ ...SAMPLES.presence, boot: OTHER, at: "2026-11-20T06:00:12.001Z" }), 1],
  ["nothing", "", 0],
  ["something else", '{"online":true}', 0],
])("%s on our topic", (_what, payload, others) => {
  const one = keeper();
  one.keeper.heard(payload, true);
  expect(one.others()).toBe(others);
});
