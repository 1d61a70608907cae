/** Any line a board can say, for properties. */
import fc from "fast-check";
import type { DeviceLine, HostLine } from "../../../protocol/serial-line/lines.ts";
import { AMPLIFIER_FAULTS, MUSCLE_ACTIONS } from "../../../protocol/vocabulary.ts";

const NAME_CHARACTERS = [..."ABCXYZabcxyz0189._/-"];
const HEX_DIGITS = [..."0123456789abcdefABCDEF"];
const name = fc.string({ unit: fc.constantFrom(...NAME_CHARACTERS), minLength: 1, maxLength: 12 });
const stamp = { seq: fc.integer({ min: 0, max: 65_535 }), t_us: fc.integer({ min: 0, max: 4_294_967_295 }) };
const command = fc.integer({ min: 1, max: 65_535 });

export const arbitraryReading = fc.record({
  kind: fc.constant("reading" as const),
  ...stamp,
  cell: fc.integer({ min: 1, max: 4 }),
  counts: fc.integer({ min: -8_388_608, max: 8_388_607 }),
  muscle_action: fc.option(fc.constantFrom(...MUSCLE_ACTIONS), { nil: null }),
});

export const arbitraryDeviceLine: fc.Arbitrary<DeviceLine> = fc.oneof(
  { weight: 4, arbitrary: arbitraryReading },
  fc.record({
    kind: fc.constant("hello" as const),
    ...stamp,
    firmware: name,
    board: name,
    amplifier: name,
    rate: fc.integer({ min: 1, max: 65_535 }),
    gain: fc.integer({ min: 1, max: 65_535 }),
    boot: fc.string({ unit: fc.constantFrom(...HEX_DIGITS), minLength: 4, maxLength: 4 }),
  }),
  fc.record({
    kind: fc.constant("key" as const),
    ...stamp,
    key: fc.integer({ min: 1, max: 255 }),
    pressed: fc.boolean(),
  }),
  fc.record({ kind: fc.constant("tag" as const), ...stamp, tag: name }),
  fc.record({ kind: fc.constant("fault" as const), ...stamp, fault: fc.constantFrom(...AMPLIFIER_FAULTS) }),
  fc.record({ kind: fc.constant("answer" as const), ...stamp, command, error: fc.option(name, { nil: null }) }),
);

export const arbitraryHostLine: fc.Arbitrary<HostLine> = fc.oneof(
  fc.record({ kind: fc.constant("identify" as const), command }),
  fc.record({
    kind: fc.constant("lamp" as const),
    command,
    lamp: fc.constantFrom(1, 2),
    to: fc.constantFrom("on" as const, "off" as const, "blink" as const),
  }),
  fc.record({ kind: fc.constant("gain" as const), command, gain: fc.constantFrom(128 as const, 64 as const) }),
  fc.record({ kind: fc.constant("rate" as const), command, rate: fc.constantFrom(10 as const, 80 as const) }),
);
