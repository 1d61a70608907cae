import { describe, expect, test } from "vitest";
import { PHASES, type Phase } from "../../../protocol/vocabulary.ts";
import { decideKey, type KeyDecision, type KeyPress } from "../../../recorder/station/keys.ts";

const S = 1_000_000;
const press = (given: Partial<KeyPress>): KeyDecision =>
  decideKey({
    key: 1,
    phase: "idle",
    taken_by: null,
    since_end_us: null,
    last_named: null,
    beginning: false,
    zero_unconfirmed: false,
    ...given,
  });

const begin: KeyDecision = { do: "ask", request: { verb: "begin", trainee: null } };
const end: KeyDecision = { do: "ask", request: { verb: "end" } };
const zero: KeyDecision = { do: "ask", request: { verb: "zero", confirm: false } };
const resting: KeyDecision = { do: "ask", request: { verb: "resting" } };
const acknowledge: KeyDecision = { do: "acknowledge" };
const running: KeyDecision = { do: "refuse", why: "a set is running" };
const occupied: KeyDecision = { do: "refuse", why: "somebody may still be on the machine" };

describe("every phase and key", () => {
  test.each<[Phase, number, "long ago" | "just ended", KeyDecision]>([
    ["idle", 1, "long ago", begin],
    ["idle", 1, "just ended", acknowledge],
    ["idle", 2, "long ago", zero],
    ["idle", 2, "just ended", zero],
    ["armed", 1, "long ago", end],
    ["armed", 1, "just ended", acknowledge],
    ["armed", 2, "long ago", resting],
    ["armed", 2, "just ended", resting],
    ["working", 1, "long ago", end],
    ["working", 1, "just ended", end],
    ["working", 2, "long ago", running],
    ["working", 2, "just ended", running],
    ["resting", 1, "long ago", end],
    ["resting", 1, "just ended", end],
    ["resting", 2, "long ago", running],
    ["resting", 2, "just ended", running],
    ["finished", 1, "long ago", begin],
    ["finished", 1, "just ended", acknowledge],
    ["finished", 2, "long ago", occupied],
    ["finished", 2, "just ended", occupied],
  ])("%s, key %i, %s", (phase, key, when, decision) => {
    expect(press({ phase, key, since_end_us: when === "just ended" ? S : 60 * S })).toEqual(decision);
  });

  test.each(PHASES.flatMap((phase) => [0, 1, 2, 3].map((key) => [phase, key] as const)))(
    "%s, key %i, during a calibration",
    (phase, key) => {
      expect(press({ phase, key, taken_by: "a calibration is under way here" })).toEqual({
        do: "refuse",
        why: "a calibration is under way here",
      });
    },
  );

  test.each(PHASES)("%s, a key that means nothing", (phase) => {
    expect(press({ phase, key: 3 })).toEqual({ do: "refuse", why: "key 3 means nothing" });
  });
});

test("three seconds after an end it only acknowledges, and no longer", () => {
  expect(press({ phase: "finished", since_end_us: 0 })).toEqual(acknowledge);
  expect(press({ phase: "finished", since_end_us: 3 * S })).toEqual(acknowledge);
  expect(press({ phase: "finished", since_end_us: 3 * S + 1 })).toEqual(begin);
  expect(press({ phase: "finished", since_end_us: null })).toEqual(begin);
});

test("begins for who was last named within ten minutes, else for nobody", () => {
  const named = (trainee: string | null, since_us: number): KeyDecision => press({ last_named: { trainee, since_us } });
  const forT07: KeyDecision = { do: "ask", request: { verb: "begin", trainee: "T-07" } };
  expect(named("T-07", 0)).toEqual(forT07);
  expect(named("T-07", 600 * S)).toEqual(forT07);
  expect(named("T-07", 600 * S + 1)).toEqual(begin);
  expect(named(null, 0)).toEqual(begin);
});

test("while a begin from the machine is not answered, key 1 asks for no other, and ends what runs all the same", () => {
  expect(press({ phase: "idle", beginning: true })).toEqual(acknowledge);
  expect(press({ phase: "finished", beginning: true })).toEqual(acknowledge);
  for (const phase of ["armed", "working", "resting"] as const) {
    expect(press({ phase, beginning: true })).toEqual({ do: "ask", request: { verb: "end" } });
  }
});

test("key 2 again, after a zero that wanted confirming, confirms it", () => {
  expect(press({ key: 2, zero_unconfirmed: true })).toEqual({ do: "ask", request: { verb: "zero", confirm: true } });
});
