import { expect, test } from "vitest";
import { envelopeOf } from "../../../recorder/mqtt/envelope.ts";
import { presenceOf } from "../../../recorder/mqtt/presence.ts";
import { SAMPLES } from "../../protocol/messages/samples.ts";
import { validateMessage } from "../../protocol/messages/validate.ts";

const FACTS = {
  recorder: "hall-box",
  boot: "7f1c0a52-6f0e-4a57-9f0c-0d9a2b6f7c11",
  simulated: false,
  version: "0.1.0",
  store: "c7b0d5a4-1f3e-4b0a-9a55-3c7f8e2d1b90",
  stations: ["leg-press", "row"],
  started_at: "2026-11-20T06:00:12.000Z",
};

test("the envelope, in its order", () => {
  // 1,000,000,000 s after 1970 is 2001-09-09T01:46:40Z, as any table of Unix time has it.
  const envelope = envelopeOf(FACTS, { at_ms: 1_000_000_000_007, clock_synced: false });
  expect(JSON.stringify(envelope)).toBe(
    '{"schema_version":1,"at":"2001-09-09T01:46:40.007Z","clock_synced":false,"recorder":"hall-box","boot":"7f1c0a52-6f0e-4a57-9f0c-0d9a2b6f7c11","simulated":false}',
  );
});

test("a moment that is no date is a fault of the program", () => {
  expect(() => envelopeOf(FACTS, { at_ms: Number.NaN, clock_synced: true })).toThrow(RangeError);
});

const { health } = SAMPLES.presence;

test.each([
  ["start", true, FACTS.started_at, health],
  ["stop", false, "2026-11-20T09:31:07.000Z", null],
  ["lost", false, "2026-11-20T09:31:07.000Z", null],
] as const)("%s", (reason, online, since, told) => {
  const now = { at_ms: Date.UTC(2026, 10, 20, 9, 31, 7), clock_synced: true };
  const presence = presenceOf(FACTS, reason, now, health);
  expect(presence).toMatchObject({ reason, online, since, at: "2026-11-20T09:31:07.000Z", stations: FACTS.stations });
  expect(presence.health).toEqual(told);
  expect(validateMessage("presence", presence)).toEqual([]);
});
