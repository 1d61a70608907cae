/** What is told of a station that works: its calibration is due, its line cannot show everything. */
import { describe, expect, it } from "vitest";
import { BARE_CANNOT_DETECT } from "../../../protocol/serial-line/bare.ts";
import { limitsOf } from "../../../recorder/station/limits.ts";
import { BEGINS_MS, Bench, readyBench, record, UNNAMED } from "./bench.ts";

const BARE = { station: { dialect: "bare", board: undefined, style: "hold" }, record: record(UNNAMED) } as const;

describe("calibration-due", () => {
  const due_ms = BEGINS_MS + 60_000;
  const due = new Date(due_ms).toISOString();

  it("stands from its day on, by a clock that is to be believed, until another record is in force", () => {
    const bench = readyBench({ record: record({ due }) });
    bench.wait((due_ms - bench.now.wall_ms) / 1000 - 0.1);
    expect(bench.alarm("calibration-due")).toBeNull();
    bench.wait(0.2);
    expect(bench.alarm("calibration-due")).toMatch(/due by 2026-11-24/);
    // A set can still be had: it is a reminder.
    expect(bench.pull(3.2, 0).ask("begin", { style: "hold" })).toMatchObject({ ok: true });
    bench.ask("end");
    bench.give({ kind: "calibration", record: record({ due: "2027-11-24T10:00:00.000Z" }), zero: null });
    expect(bench.wait(0.2).alarm("calibration-due")).toBeNull();
  });

  it("is not said by a clock that nobody set", () => {
    const bench = readyBench({ record: record({ due: "2020-01-01T00:00:00.000Z" }) });
    expect(bench.alarm("calibration-due")).not.toBeNull();
    class Unset extends Bench {
      override get now() {
        return { ...super.now, clock_synced: false };
      }
    }
    const unset = new Unset({ record: record({ due: "2020-01-01T00:00:00.000Z" }) }).open().settle();
    expect(unset.alarm("calibration-due")).toBeNull();
  });
});

describe("what a line cannot show", () => {
  it("is said of a bare one: once in the log, with its first line", () => {
    const bench = new Bench(BARE);
    expect(limitsOf(bench.station)).toEqual(BARE_CANNOT_DETECT);
    bench.open().settle();
    bench.give({ kind: "closed" });
    bench.open().settle();
    const said = bench.did("log").filter(({ text }) => text.includes(BARE_CANNOT_DETECT[0] as string));
    expect(said).toHaveLength(1);
  });

  it("is nothing on a tm1 line", () => {
    expect(limitsOf(readyBench().station)).toEqual([]);
    expect(
      readyBench()
        .did("log")
        .some(({ text }) => text.includes("cannot show")),
    ).toBe(false);
  });
});
