/**
 * A self-test as it runs: raw readings of a station at rest, as many as come in the time asked for. Persistent: one more
 * reading gives a new one and leaves the old as it was.
 */
import { refusal } from "../../calibration/outcome.ts";
import type { Refusal } from "../../protocol/vocabulary.ts";
import { readAgain, UNREAD, type Unread } from "./unread.ts";

/** interrupted: the line or the board began anew, or the recorder was stopped. silent: no more readings came. */
export type SelfTestEnd = "complete" | "interrupted" | "silent";

interface Reading {
  readonly at_us: number;
  readonly counts: number;
  readonly older: Reading | null;
}

export interface LampTest {
  /** The lamp that is lit; null: both had their turn. */
  readonly lit: 1 | 2 | null;
  /** When it was lit, host's ms. */
  readonly since_ms: number;
  /** How long the board took to say that it is lit, ms; null: it has not, or not yet. */
  readonly answered_ms: Readonly<Record<1 | 2, number | null>>;
}

export interface SelfTest {
  readonly request_id: string;
  /** Of device time. */
  readonly duration_s: number;
  /** ISO 8601 UTC. */
  readonly since: string;
  readonly newest: Reading | null;
  readonly first_us: number | null;
  readonly readings: number;
  readonly lost: number;
  readonly rejected: number;
  /** Host time without a reading, and host time in all. */
  readonly unread: Unread;
  readonly passed: Unread;
  /** null: nobody wants to see them. */
  readonly lamps: LampTest | null;
  /** null: it goes on. One that has its readings may still have a lamp lit. */
  readonly ended: SelfTestEnd | null;
}

export const newSelfTest = (request_id: string, duration_s: number, since: string): SelfTest => ({
  request_id,
  duration_s,
  since,
  newest: null,
  first_us: null,
  readings: 0,
  lost: 0,
  rejected: 0,
  unread: UNREAD,
  passed: UNREAD,
  lamps: null,
  ended: null,
});

/** `lost` of the first reading is of the time before. */
export function withReading(test: SelfTest, at_us: number, counts: number, lost: number): SelfTest {
  if (test.ended !== null) return test;
  const first_us = test.first_us ?? at_us;
  return {
    ...test,
    newest: { at_us, counts, older: test.newest },
    first_us,
    readings: test.readings + 1,
    lost: test.first_us === null ? test.lost : test.lost + lost,
    unread: readAgain(test.unread),
    ended: at_us - first_us >= test.duration_s * 1e6 ? "complete" : null,
  };
}

export const withRejected = (test: SelfTest): SelfTest =>
  test.ended === null ? { ...test, rejected: test.rejected + 1 } : test;

/** What comes after it is another scale, or another time. null stays null. */
export const interrupted = (test: SelfTest | null): SelfTest | null =>
  test === null || test.ended !== null ? test : { ...test, ended: "interrupted" };

/** The board has said that it did what it was told of a lamp. */
export function withLampAnswer(test: SelfTest, lamp: number, now_ms: number): SelfTest {
  const { lamps } = test;
  if (lamps === null || lamps.lit !== lamp || lamps.answered_ms[lamps.lit] !== null) return test;
  return { ...test, lamps: { ...lamps, answered_ms: { ...lamps.answered_ms, [lamp]: now_ms - lamps.since_ms } } };
}

/** Oldest first, in columns of one length. */
export function readingsOf(test: SelfTest): { readonly at_us: readonly number[]; readonly counts: readonly number[] } {
  const at_us: number[] = [];
  const counts: number[] = [];
  for (let reading = test.newest; reading !== null; reading = reading.older) {
    at_us.push(reading.at_us);
    counts.push(reading.counts);
  }
  return { at_us: at_us.reverse(), counts: counts.reverse() };
}

export const busySelfTest = ({ duration_s, since }: SelfTest): Refusal =>
  refusal("busy", `A self-test of ${duration_s} s is running here since ${since}.`, "Wait for its end.").error;
