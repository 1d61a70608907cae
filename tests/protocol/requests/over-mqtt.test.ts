/** Requests over MQTT: where each verb is asked, and their published schemas against ajv, which made none of them. */
import { describe, expect, test } from "vitest";
import {
  askedAtField,
  askerName,
  mqttRequestSchema,
  ownersOf,
  stationField,
} from "../../../protocol/requests/over-mqtt.ts";
import { VERBS, type Verb } from "../../../protocol/requests/verbs.ts";
import { validateMessage, validateRequest } from "../messages/validate.ts";

const ID = "5d1f6a39-14a3-4e8e-9c0e-3a4bb1a5c001";
const SET = "019a8b3c-5d1f-7a39-8e8e-3a4bb1a5c002";
const VERB_NAMES = Object.keys(VERBS) as Verb[];
const askable = VERB_NAMES.filter((verb) => ownersOf(verb).length > 0);

/** What a verb needs beside its station. */
const NEEDED: Partial<Record<string, object>> = {
  set: { set_id: SET, curve: true },
  amend: { set_id: SET, pain: 3 },
  "tag-save": { tag: "band-0142", trainee: "T-07" },
  trend: { trainee: "T-07", side: "left" },
  "plan-save": {
    trainee: "T-07",
    sides: ["left", "right"],
    fatigue_threshold: 0.35,
    setup: { seat: "4", pin: null },
    options: { grace_s: null, rest_limit_s: 8 },
    warm_up: { sets: 1, fatigue_threshold: null },
    by_side: { left: { intent: "held", setup: { handle: "wide" } }, right: null },
    note: null,
  },
  "calibration-load": { mass_kg: 20, at: "handle", asked_at: "2026-11-25T10:00:00.000Z" },
  "calibration-check": { force_N: 500, loading: "decreasing", at: "cell", asked_at: "2026-11-25T10:00:00.000Z" },
  "calibration-use": { calibration_id: ID },
  begin: { trainee: "T-07", style: "hold", fatigue_threshold: 0.4, options: { grace_s: 1 } },
};
const request = (verb: string, more: object = {}): object => ({
  request_id: ID,
  asker: "tablet-1",
  schema_version: 1,
  clock_synced: true,
  ...NEEDED[verb],
  ...more,
});

describe("where a verb is asked", () => {
  test.each<[Verb, ReturnType<typeof ownersOf>, ReturnType<typeof stationField>]>([
    ["status", ["station", "recorder"], "optional"],
    ["sets", ["station", "recorder"], "optional"],
    ["set", ["station", "recorder"], "none"],
    ["amend", ["station", "recorder"], "none"],
    ["tags", ["recorder"], "none"],
    ["tag-save", ["recorder"], "none"],
    ["calibrations", ["station"], "required"],
    ["begin", ["station"], "required"],
    ["calibration-load", ["station"], "required"],
    ["watch", [], "optional"],
    ["import", [], "none"],
    ["export", [], "none"],
    ["erase", [], "none"],
    ["plan", ["station"], "required"],
    ["plan-save", ["station"], "required"],
    ["trend", ["station"], "required"],
  ])("%s: %j, its station %s", (verb, owners, field) => {
    expect(ownersOf(verb)).toEqual(owners);
    expect(stationField(verb)).toBe(field);
  });

  test("what acts on a station is never asked at the recorder, where a right is one to all of them", () => {
    const acting = VERB_NAMES.filter((verb) => VERBS[verb].group !== "read" && stationField(verb) !== "none");
    expect(acting.length).toBeGreaterThan(8);
    // Whoever asks for a self-test looks at the machine's own host as well.
    for (const verb of acting) expect(ownersOf(verb), verb).toEqual(verb === "self-test" ? [] : ["station"]);
  });

  test("the moment of asking is `at`, except where a verb has an `at` of its own", () => {
    for (const verb of VERB_NAMES) {
      expect(askedAtField(verb), verb).toBe(/^calibration-(load|check)$/.test(verb) ? "asked_at" : "at");
    }
  });
});

describe("the published request schemas", () => {
  test.each(askable)("%s: a sample is good for ajv and for us, a field more is not", (verb) => {
    const good = request(verb);
    expect(validateRequest(verb, good)).toEqual([]);
    expect(mqttRequestSchema(verb).safeParse(good).error?.issues).toBeUndefined();
    for (const bad of [
      request(verb, { stile: 1 }),
      request(verb, { request_id: "1" }),
      request(verb, { asker: "a/b" }),
    ]) {
      expect(validateRequest(verb, bad), JSON.stringify(bad)).not.toEqual([]);
      expect(mqttRequestSchema(verb).safeParse(bad).success, JSON.stringify(bad)).toBe(false);
    }
  });
});

test.each(["a", "tablet-1", "Coach.A_1@north", "x".repeat(40)])("%s is an asker", (name) =>
  expect(askerName.safeParse(name).success).toBe(true),
);
test.each(["", "a/b", "+", "#", "a b", "é", "x".repeat(41), "a\u0000", "$SYS/x", "a\n"])("%j is none", (name) =>
  expect(askerName.safeParse(name).success).toBe(false),
);

describe("the published answer", () => {
  const envelope = {
    schema_version: 1,
    at: "2026-11-25T10:00:00.000Z",
    clock_synced: true,
    recorder: "hall-box",
    boot: ID,
    simulated: false,
    request_id: ID,
  };
  test("is good with a result, or with an error, and never with neither", () => {
    expect(validateMessage("response", { ...envelope, ok: true, result: { stations: [] } })).toEqual([]);
    const error = { code: "busy", message: "A set is running.", hint: "Wait." };
    expect(validateMessage("response", { ...envelope, ok: false, error })).toEqual([]);
    expect(validateMessage("response", { ...envelope, ok: true })).not.toEqual([]);
    expect(validateMessage("response", { ...envelope, ok: false, result: {} })).not.toEqual([]);
    expect(validateMessage("response", { ...envelope, ok: false, error: { code: "busy" } })).not.toEqual([]);
  });
});
