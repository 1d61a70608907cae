import { describe, expect, test } from "vitest";
import { setSchema } from "../../../protocol/messages/set.ts";
import { done, refused } from "../../../protocol/requests/response.ts";
import { isVerb, VERBS, type Verb } from "../../../protocol/requests/verbs.ts";
import { SAMPLES } from "../messages/samples.ts";

const takes = (verb: Verb, args: object): boolean => VERBS[verb].args.safeParse(args).success;
const at = { station: "leg-press" };
const set_id = "019ab3c0-1111-7000-8000-000000000001";

describe("the verbs", () => {
  test("are known by name, and nothing inherited is one", () => {
    expect(isVerb("begin")).toBe(true);
    for (const stranger of ["constructor", "__proto__", "toString", "", 5, null, undefined]) {
      expect(isVerb(stranger)).toBe(false);
    }
  });

  test.each(Object.keys(VERBS) as Verb[])("%s is strict", (verb) => {
    expect(takes(verb, { ...at, set_id, nonsense: 1 })).toBe(false);
  });

  const needed: Readonly<Record<string, object>> = {
    "calibration-load": { ...at, mass_kg: 20 },
    "calibration-check": { ...at, force_N: 0, loading: "increasing" },
    "calibration-use": { ...at, calibration_id: set_id },
    import: { calibration: {} },
    amend: { set_id, void: true },
    "tag-save": { tag: "band-0142", trainee: "T-07" },
    "plan-save": { ...at, trainee: "T-07", fatigue_threshold: 0.35 },
    backup: { path: "/var/backups/tidemark.db" },
    restore: { path: "/var/backups/tidemark.db" },
    export: { path: "/var/backups/record.jsonl" },
    erase: { trainee: "T-07" },
  };

  test.each(Object.entries(VERBS).filter(([, { group }]) => group !== "read"))(
    "%s says who asks, if it is said",
    (verb) => {
      const args = needed[verb] ?? at;
      expect(takes(verb as Verb, { ...args, performed_by: "P-01" })).toBe(true);
      expect(takes(verb as Verb, args)).toBe(true);
      expect(takes(verb as Verb, { ...args, performed_by: "two words" })).toBe(false);
    },
  );

  test.each<[Verb, object, boolean]>([
    // The range a threshold may have, at its ends and just beyond.
    ["begin", { ...at, fatigue_threshold: 0.1 }, true],
    ["begin", { ...at, fatigue_threshold: 0.0999 }, false],
    ["begin", { ...at, fatigue_threshold: 0.75 }, true],
    ["begin", { ...at, fatigue_threshold: 0.7501 }, false],
    ["begin", { ...at, fatigue_threshold: Number.NaN }, false],
    ["begin", {}, false],
    ["begin", { ...at, options: { grace_s: 1, best_from: "today" } }, true],
    ["begin", { ...at, options: { grace: 1 } }, false],
    ["begin", { station: "Leg Press" }, false],
    ["begin", { station: "a".repeat(40) }, true],
    ["begin", { station: "a".repeat(41) }, false],
    ["end", { ...at, because: "pain" }, true],
    ["end", { ...at, because: "bored" }, false],
    ["calibration-load", { ...at, mass_kg: 20 }, true],
    ["calibration-load", { ...at, force_N: 200 }, true],
    ["calibration-load", { ...at, mass_kg: 20, force_N: 200 }, false],
    ["calibration-load", at, false],
    ["calibration-load", { ...at, mass_kg: 0 }, false],
    // The 11 points of a numeric rating scale, 0 to 10.
    ["amend", { set_id, pain: 0, exertion: 10 }, true],
    ["amend", { set_id, pain: 10.5 }, false],
    ["amend", { set_id, pain: -1 }, false],
    ["amend", { set_id, pain: null, exertion: null, note: null, side: null, trainee: null }, true],
    ["amend", { set_id, warm_up: null }, false],
    ["amend", { set_id, void: null }, false],
    ["amend", { set_id, note: "" }, false],
    ["amend", { set_id, note: "Sitz 4, Knie zwickt: später prüfen" }, true],
    ["amend", { set_id, note: "seat 4\u001b[2J" }, false],
    ["amend", { set_id, note: "seat 4\nseat 5" }, false],
    // Unicode 15, table 4-4, General_Category: Zl, Zp and Cs. A pair of surrogates is one character and no Cs.
    ["amend", { set_id, note: "seat 4\u2028seat 5" }, false],
    ["amend", { set_id, note: "seat 4\u2029seat 5" }, false],
    ["amend", { set_id, note: "seat \ud83d" }, false],
    ["amend", { set_id, note: "seat \ud83d\ude00, \u05d2\u200f" }, true],
    ["calibration-accept", { ...at, note: "as found, 20 °C" }, true],
    ["calibration-accept", { ...at, note: "as found\u001b[2J" }, false],
    ["begin", { ...at, exercise: "leg press, wide" }, true],
    ["begin", { ...at, exercise: "a".repeat(61) }, false],
    ["begin", { ...at, exercise: "leg press\u001b[2J" }, false],
    ["plan-save", { ...at, trainee: "T-07", exercise: "leg press\u001b[2J" }, false],
    // A set of before may bear such a name, and must be found by it.
    ["sets", { exercise: "leg press\u001b[2J" }, true],
    ["amend", { set_id }, false],
    ["amend", { set_id, performed_by: "P-01" }, false],
    ["amend", { void: true }, false],
    ["tag-save", { tag: "04:A2", trainee: "T-07" }, false],
    ["tag-save", { tag: "a/b_c.d-0", trainee: null }, true],
    ["tag-save", { tag: "a".repeat(33), trainee: null }, false],
    ["tag-save", { tag: "band-0142" }, false],
    ["sets", { limit: 1000 }, true],
    ["sets", { limit: 1001 }, false],
    ["sets", { from: "2026-11-24T18:00:00+01:00" }, true],
    ["sets", { from: "2026-11-24" }, false],
  ])("%s %j: %s", (verb, args, fits) => {
    expect(takes(verb, args)).toBe(fits);
  });

  test("sets is a page, of 100 where nothing is said", () => {
    expect(VERBS.sets.args.parse({}).limit).toBe(100);
  });
});

test("a set of before that bears a name no begin would take any more is read as it was", () => {
  const exercise = "leg press\u001b[2J";
  expect(setSchema.parse({ ...SAMPLES.set, exercise }).exercise).toBe(exercise);
});

test("an outcome is a result or a refusal, with a hint only where there is one", () => {
  expect(done(1)).toEqual({ ok: true, result: 1 });
  expect(refused("busy", "no")).toStrictEqual({ ok: false, error: { code: "busy", message: "no" } });
  expect(refused("busy", "no", "wait")).toStrictEqual({
    ok: false,
    error: { code: "busy", message: "no", hint: "wait" },
  });
});
