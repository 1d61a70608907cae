/** Dates of sets that ended before the clock was right. */
import { expect, it } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { Revising } from "../../../recorder/ports.ts";
import { BackDating } from "../../../recorder/run/back-dating.ts";
import { curveOf, replaySet } from "../../../recorder/run/replay.ts";
import type { Now } from "../../../recorder/station/exchange.ts";
import { holdCurve, readyBench } from "../station/bench.ts";
import { inventedSet } from "../store/invented.ts";

/** The real clock; the box has been on since `ms` 0, and its own clock began in 1970. */
const BOOTED_MS = Date.parse("2026-11-25T07:00:00.000Z");
const at = (ms: number, clock_synced = false): Now => ({
  ms,
  wall_ms: (clock_synced ? BOOTED_MS : 0) + ms,
  clock_synced,
});

function bench() {
  const revisings: Revising[] = [];
  const revised: SetMessage[] = [];
  const said: string[] = [];
  const written: Promise<unknown>[] = [];
  const dates = new BackDating({
    store: {
      async revise(revising) {
        revisings.push(revising);
        if (revising.set_id === inventedSet(9).set_id) return null;
        return { ...inventedSet(1), set_id: revising.set_id, ...revising.changes };
      },
    },
    writes: { write: (_what, writing) => void written.push(writing()) },
    topic: (station) => `tidemark/hall/station/${station}/set`,
    revised: (set) => revised.push(set),
    log: { info: (_fields: object, message: string) => said.push(message) } as never,
  });
  return { dates, revisings, revised, said, all: () => Promise.all(written) };
}

/** A set that started 40 s before `ended_ms` and bears the dates of a clock that began in 1970. */
const wrong = (number: number, ended_ms: number): SetMessage =>
  inventedSet(number, {
    at: new Date(ended_ms).toISOString(),
    started_at: new Date(ended_ms - 40_000).toISOString(),
    clock_synced: false,
  });

it("a set of 1970 is of today once the clock is right: by the time that has passed since, not by what the clock said", async () => {
  const { dates, revisings, revised, said, all } = bench();
  dates.ended(wrong(1, 90_000), at(90_000));
  dates.ended(wrong(2, 200_000), at(200_000));
  for (const number of [1, 2]) dates.kept(wrong(number, 0));
  dates.look(at(250_000));
  expect(revisings).toEqual([]);
  dates.look(at(300_000, true));
  dates.look(at(301_000, true));
  await all();
  expect(revisings.map(({ changes }) => changes)).toEqual([
    { started_at: "2026-11-25T07:00:50.000Z", at: "2026-11-25T07:01:30.000Z", clock_synced: true },
    { started_at: "2026-11-25T07:02:40.000Z", at: "2026-11-25T07:03:20.000Z", clock_synced: true },
  ]);
  expect(revisings[0]).toMatchObject({ performed_by: null, revised_at: "2026-11-25T07:05:00.000Z" });
  expect(revised).toHaveLength(2);
  expect(said).toEqual(["The clock is synced: 2 sets are given the right date, 1795590000 s later."]);
});

it("a clock that jumped in the middle of the set, before anybody vouched for it, changes nothing of the right date", async () => {
  const { dates, revisings, all } = bench();
  // Armed in 1970, ended in 2027, and it is 2026.
  dates.ended(wrong(1, 90_000), { ms: 90_000, wall_ms: Date.parse("2027-01-01T00:00:00.000Z"), clock_synced: false });
  dates.kept(wrong(1, 0));
  dates.look(at(300_000, true));
  await all();
  expect(revisings[0]?.changes).toMatchObject({ at: "2026-11-25T07:01:30.000Z" });
});

it("of a box that never learns the time, only the newest sets are remembered", async () => {
  const { dates, revisings, all } = bench();
  for (let number = 1; number <= 2001; number += 1) {
    dates.ended(wrong(number, 90_000), at(90_000));
    dates.kept(wrong(number, 0));
  }
  dates.look(at(300_000, true));
  await all();
  expect(revisings).toHaveLength(2000);
  expect(revisings[0]?.set_id).toBe(wrong(2, 0).set_id);
});

it("a set whose date was vouched for keeps it, one the store has not yet waits, one that was erased is let be", async () => {
  const { dates, revisings, revised, all } = bench();
  dates.ended({ ...wrong(1, 1000), clock_synced: true }, at(1000, true));
  dates.kept(wrong(1, 0));
  dates.ended(wrong(2, 2000), at(2000));
  dates.look(at(10_000, true));
  expect(revisings).toEqual([]);
  dates.kept(wrong(2, 0));
  dates.ended(wrong(9, 3000), at(3000));
  dates.kept(wrong(9, 0));
  dates.look(at(20_000, true));
  await all();
  expect(revisings.map(({ set_id }) => set_id)).toEqual([wrong(2, 0).set_id, wrong(9, 0).set_id]);
  expect(revised.map(({ set_id }) => set_id)).toEqual([wrong(2, 0).set_id]);
});

it("a set that was given another date has the curve and the judgement it had, at that date", async () => {
  const run = readyBench()
    .begin({ style: "hold" })
    .pull(0.5, 0)
    .pull(6, holdCurve(1000, 10, 0));
  run.ask("end");
  const [kept] = run.kept;
  if (kept === undefined) throw new Error("no set");
  const log = { ...kept.log, arm: { ...(kept.log.arm as object), clock_synced: false } };
  const before = { ...kept.message, clock_synced: false };
  const year_ms = 365 * 24 * 3600 * 1000;
  const later = (instant: string): string => new Date(Date.parse(instant) + year_ms).toISOString();
  const moved = { ...before, at: later(before.at), started_at: later(before.started_at), clock_synced: true };
  expect(await curveOf(log, moved)).toEqual(await curveOf(log, before));
  expect(replaySet(moved, log, {})).toEqual(moved);
});
