/**
 * A day of noise from bad boards, told apart: every quarter of an hour a self-test of ten seconds at each, while the room warms and
 * cools by six degrees either way. Each must be named by its own fault in at least 95 of 100 tests, by no more than the faults that
 * come with it, and a good board must show none in at least 99.
 */
import { describe, expect, it } from "vitest";
import { examineSensor } from "../../../calibration/self-test/examine.ts";
import type { SensorCheck } from "../../../calibration/self-test/finding.ts";
import type { SensorFacts } from "../../../calibration/self-test/sample.ts";
import { seedFor } from "../../../recorder/simulated-gym/random.ts";
import {
  type Board,
  DAY_S,
  FACTS,
  GOOD,
  MISREADING,
  NOISY,
  overBareLine,
  POOR_SUPPLY,
  SHIFTED,
  SLOW,
  SLOW_AND_POOR,
  sampleOf,
  UNSHIELDED,
} from "./boards.ts";

const EVERY_S = 900;
const TESTS = DAY_S / EVERY_S;
const SEED = Number(process.env["SEED"] ?? 1);

interface Case {
  readonly name: string;
  readonly board: Board;
  readonly scaled: boolean;
  /** The fault it has. */
  readonly right: SensorCheck;
  /** Faults that truly come with it. */
  readonly besides: readonly SensorCheck[];
}

const BAD: readonly Case[] = [
  { name: "unshielded cable", board: UNSHIELDED, scaled: true, right: "mains", besides: [] },
  { name: "unshielded cable, no scale yet", board: UNSHIELDED, scaled: false, right: "mains", besides: [] },
  { name: "misreading data line", board: MISREADING, scaled: true, right: "spikes", besides: [] },
  { name: "shifted by two bits", board: SHIFTED, scaled: true, right: "bits", besides: [] },
  { name: "poor supply", board: POOR_SUPPLY, scaled: true, right: "averaging", besides: ["drift", "swing"] },
  {
    name: "rate pin and poor supply",
    board: SLOW_AND_POOR,
    scaled: true,
    right: "rate",
    besides: ["averaging", "drift", "swing"],
  },
];

const UNSCALED: SensorFacts = { ...FACTS, counts_per_N: null, zero_counts: null };

/** How many of a day's self-tests named each fault. */
function faultsOverDay(board: Board, facts: SensorFacts): ReadonlyMap<string, number> {
  const named = new Map<string, number>();
  for (let test = 0; test < TESTS; test += 1) {
    const sample = sampleOf(board, test * EVERY_S, seedFor(SEED, `test ${test}`));
    const faults = examineSensor(facts.dialect === "bare" ? overBareLine(sample) : sample, facts).filter(
      ({ level }) => level === "fault",
    );
    for (const { check } of faults.length === 0 ? [{ check: "none" }] : faults) {
      named.set(check, (named.get(check) ?? 0) + 1);
    }
  }
  return named;
}

const asText = (named: ReadonlyMap<string, number>): string =>
  [...named].map(([check, times]) => `${check} ${times}`).join(", ");

describe(`a day of ${TESTS} self-tests`, () => {
  it.each(BAD)("names the fault of: $name", ({ name, board, scaled, right, besides }) => {
    const named = faultsOverDay(board, scaled ? FACTS : UNSCALED);
    if (process.env["TABLE"] !== undefined) console.log(`${name}: ${asText(named)}`);
    expect(named.get(right) ?? 0, asText(named)).toBeGreaterThanOrEqual(0.95 * TESTS);
    for (const [check, times] of named) {
      if (check !== right && check !== "none" && !besides.includes(check as SensorCheck)) {
        expect(times, asText(named)).toBeLessThanOrEqual(0.05 * TESTS);
      }
    }
  });

  it.each<readonly [string, Board, Partial<SensorFacts>]>([
    ["a good board", GOOD, {}],
    ["one with no scale yet", GOOD, { counts_per_N: null, zero_counts: null }],
    ["one with twice the datasheet's noise", NOISY, {}],
    ["one at 10 readings a second", SLOW, { configured_rate_Hz: 10 }],
    ["one without time of its own, through an adapter that hands over every 16 ms", GOOD, { dialect: "bare" }],
  ])("finds no fault in %s", (name, board, facts) => {
    const named = faultsOverDay(board, { ...FACTS, ...facts });
    if (process.env["TABLE"] !== undefined) console.log(`${name}: ${asText(named)}`);
    expect(named.get("none") ?? 0, asText(named)).toBeGreaterThanOrEqual(0.99 * TESTS);
  });
});

it("looks at a minute of 80 readings a second within a tenth of a second", () => {
  const sample = sampleOf(GOOD, 0, SEED, 60);
  const times_ms = Array.from({ length: 7 }, () => {
    const from_ms = performance.now();
    examineSensor(sample, FACTS);
    return performance.now() - from_ms;
  });
  // The quickest: what else the computer does meanwhile is not looked at.
  expect(Math.min(...times_ms)).toBeLessThan(100);
});
