import { describe, expect, test } from "vitest";
import { FURTHER_MESSAGES, RECORDER_TOPICS, STATION_TOPICS } from "../../../protocol/messages/topics.ts";
import { ALARM_CODES } from "../../../protocol/vocabulary.ts";
import { ERASED_SET, SAMPLES } from "./samples.ts";
import { type MessageName, validateMessage } from "./validate.ts";

const NAMES = Object.keys(SAMPLES) as MessageName[];
const zodSchemas = { ...STATION_TOPICS, ...RECORDER_TOPICS };

/** A copy with one dotted path changed, or removed where there is no value. */
function changed(name: MessageName, path: string, value?: unknown): unknown {
  const copy = structuredClone(SAMPLES[name]) as Record<string, unknown>;
  const keys = path.split(".");
  const last = keys.pop()!;
  const owner = keys.reduce<Record<string, unknown>>((at, key) => at[key] as Record<string, unknown>, copy);
  if (value === undefined) delete owner[last];
  else owner[last] = value;
  return copy;
}

test("there is a sample of every message in the table", () => {
  expect(new Set(NAMES)).toEqual(new Set(Object.keys(zodSchemas)));
  expect(FURTHER_MESSAGES.set).toHaveProperty("erased-set");
});

describe.each(NAMES)("%s", (name) => {
  test("the sample is good to ajv and to zod", () => {
    expect(validateMessage(name, SAMPLES[name])).toEqual([]);
    expect(validateMessage(name, JSON.stringify(SAMPLES[name]))).toEqual([]);
    expect(zodSchemas[name].schema.safeParse(SAMPLES[name]).success).toBe(true);
  });

  test("an unknown field is no fault: producers add fields", () => {
    const grown = changed(name, "added_later", { anything: 1 });
    expect(validateMessage(name, grown)).toEqual([]);
    expect(zodSchemas[name].schema.safeParse(grown).success).toBe(true);
  });

  test.each(Object.keys(SAMPLES[name]))("without %s it is bad, to both", (field) => {
    const bad = changed(name, field);
    expect(validateMessage(name, bad).join()).toContain(field);
    expect(zodSchemas[name].schema.safeParse(bad).success).toBe(false);
  });

  test.each([
    ["schema_version", 2],
    ["at", "2026-11-20T09:31:07Z"],
    ["at", "2026-11-20T09:31:07.412+00:00"],
    ["at", "2026-02-30T09:31:07.412Z"],
    ["at", 1_763_631_067_412],
    ["recorder", "Hall Box"],
    ["boot", "7f1c0a52"],
    ["simulated", "no"],
    ["clock_synced", null],
  ])("an envelope with %s %j is bad, to both", (field, value) => {
    const bad = changed(name, field, value);
    expect(validateMessage(name, bad)).not.toEqual([]);
    expect(zodSchemas[name].schema.safeParse(bad).success).toBe(false);
  });
});

test.each<[MessageName, string, unknown]>([
  ["live", "phase", "paused"],
  ["live", "force_reserve", 1.01],
  ["live", "force_reserve", -0.01],
  ["live", "force_N", "903"],
  ["live", "live_seq", -1],
  ["live", "live_seq", 1.5],
  ["state", "trainee", "Jo Example"],
  ["state", "setup", { seat: 4 }],
  ["state", "resting_force", "maybe"],
  ["state", "comparable_set.style", "dance"],
  ["effort", "effort_number", 0],
  ["effort", "counted", null],
  ["set", "set_id", "41"],
  ["set", "revision", 0],
  ["set", "side", "top"],
  ["set", "options.best_from", "ever"],
  ["set", "options.grace_s", null],
  ["set", "efforts.0.peak_force_N", null],
  ["set", "quality.readings", -1],
  ["set", "stop_reason", "bored"],
  ["sensor", "alarms.0.code", "fire"],
  ["sensor", "alarms.0.latched", "yes"],
  ["sensor", "reasons", "none"],
  ["presence", "reason", "gone"],
  ["presence", "stations", ["Leg Press"]],
])("%s with %s %j is bad, to both", (name, path, value) => {
  const bad = changed(name, path, value);
  expect(validateMessage(name, bad)).not.toEqual([]);
  expect(zodSchemas[name].schema.safeParse(bad).success).toBe(false);
});

test.each(ALARM_CODES)("the alarm %s can be published", (code) => {
  expect(validateMessage("sensor", changed("sensor", "alarms.0.code", code))).toEqual([]);
});

test("an erased set travels on the set topic, and is no set", () => {
  expect(validateMessage("set", ERASED_SET)).toEqual([]);
  expect(validateMessage("latest-set", ERASED_SET)).not.toEqual([]);
  expect(validateMessage("set", { ...ERASED_SET, erased: false })).not.toEqual([]);
});

test("a whole set that also says it is erased would be two messages at once", () => {
  expect(validateMessage("set", { ...SAMPLES.set, erased: true }).join()).toContain("must exclude each other");
});

test("the fields of a set come in their published order", () => {
  // The order is a promise to whoever reads payloads by eye or by line; zod keeps the order of the schema.
  const envelope = ["schema_version", "at", "clock_synced", "recorder", "boot", "simulated"];
  const order =
    "set_id store set_seq revision station exercise exercise_label trainee side style intent warm_up set_of_day rested_s " +
    "fatigue_threshold options tested_best_force_N started_at duration_s time_under_tension_s stop_reason ended_because " +
    "reached_threshold cut_short best_force_N today_best_force_N floor_force_N final_force_N force_loss force_loss_today " +
    "force_loss_uncertainty impulse_N_s mean_force_N mean_effort_force_N decline_per_s decline_per_effort " +
    "concentric_best_force_N eccentric_best_force_N decided_by efforts resting_force_N resting_subtracted calibration_id " +
    "expanded_uncertainty_N zero_shift_N quality engine void pain exertion note";
  const shuffled = Object.fromEntries(Object.entries(SAMPLES.set).reverse());
  expect(Object.keys(STATION_TOPICS.set.schema.parse(shuffled))).toEqual([...envelope, ...order.split(" ")]);
});
