import { afterAll, beforeAll, beforeEach, expect, test, vi } from "vitest";
import type { ReplaySet } from "../../../recorder/control/ports.ts";
import { SET, SET_ID } from "../control/fake-gym.ts";
import { cli } from "./fake-terminal.ts";
import { type Running, running } from "./running.ts";

// What the engine finds is its own room's to test; here it is what the command hands it, and how it says the answer.
const replaySet = vi.hoisted(() => vi.fn<ReplaySet>());
vi.mock("../../../recorder/run/replay.ts", () => ({ replaySet }));

let here: Running;
beforeAll(async () => {
  here = await running();
});
afterAll(() => here.stop());
beforeEach(() => {
  replaySet.mockReset();
});

const AGAIN = {
  ...SET,
  fatigue_threshold: 0.3,
  floor_force_N: 723.98,
  efforts: SET.efforts.slice(0, 1),
  duration_s: 20,
};

test("the input log and the changes go to the engine, what differs comes back", async () => {
  replaySet.mockReturnValue({ ...AGAIN, options: { ...SET.options, grace_s: 2 } });
  const ran = await cli("replay", SET_ID, "--loss", "30", "--grace-s", "2", "--socket", here.socket);
  expect(ran).toEqual({
    exit: 0,
    error: "",
    out: [
      "                      kept  judged again",
      "fatigue threshold   40.0 %        30.0 %",
      "duration            28.5 s        20.0 s",
      "floor force        620.5 N       724.0 N",
      "grace                1.0 s         2.0 s",
      "efforts                  3             1",
    ].join("\n"),
  });
  const [message, log, changes] = replaySet.mock.calls[0]!;
  expect(message).toEqual(SET);
  expect(log).toEqual({
    arm: { style: "rest-pause" },
    at_us: [0, 12_500, 25_000],
    counts: [84_123, 84_130, 84_119],
    events: [{ before: 1, event: { kind: "key" } }],
  });
  expect(changes).toEqual({ fatigue_threshold: 0.3, options: { grace_s: 2 } });
});

test("unchanged, to the same result", async () => {
  replaySet.mockReturnValue(SET);
  expect((await cli("replay", SET_ID, "--socket", here.socket)).out).toBe("judged again, to the same result");
});

test("--json is the set as judged again", async () => {
  replaySet.mockReturnValue(AGAIN);
  expect(JSON.parse((await cli("replay", SET_ID, "--json", "--socket", here.socket)).out)).toEqual(AGAIN);
});

test("a set that is not kept", async () => {
  const { exit, error } = await cli("replay", SET_ID.replace(/1$/, "2"), "--socket", here.socket);
  expect([exit, error]).toEqual([1, expect.stringContaining("is kept here")]);
  expect(replaySet).not.toHaveBeenCalled();
});

test("settings that make no set are said in the engine's sentence", async () => {
  replaySet.mockImplementation(() => {
    throw new Error("With these settings no effort is counted.");
  });
  const ran = await cli("replay", SET_ID, "--socket", here.socket);
  expect(ran).toEqual({ exit: 1, out: "", error: "With these settings no effort is counted." });
});

test("what breaks is said shortly, and where only if it is asked", async () => {
  replaySet.mockImplementation(() => {
    throw new RangeError("no such window");
  });
  const short = await cli("replay", SET_ID, "--socket", here.socket);
  expect(short).toEqual({
    exit: 1,
    out: "",
    error: "something in the program broke (no such window): add --debug to see where",
  });
  const long = await cli("replay", SET_ID, "--socket", here.socket, "--debug");
  expect([long.exit, long.error]).toEqual([1, expect.stringMatching(/^RangeError: no such window\n +at /)]);
});
