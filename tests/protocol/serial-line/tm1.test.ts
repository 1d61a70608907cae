import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { encodeDeviceLine } from "../../../protocol/serial-line/encode.ts";
import type { LineInput } from "../../../protocol/serial-line/events.ts";
import { newLineSource, readLine } from "../../../protocol/serial-line/reader.ts";
import { feed, line, opened, readingsOf } from "./sources.ts";

const PERIOD_US = 12_500;

const reading = (seq: number, t_us: number, counts = 1000, cell = 1) =>
  encodeDeviceLine({ kind: "reading", seq: seq & 0xffff, t_us: t_us >>> 0, cell, counts, muscle_action: null });
const hello = (seq: number, t_us: number, boot = "5e21") =>
  encodeDeviceLine({
    kind: "hello",
    seq: seq & 0xffff,
    t_us: t_us >>> 0,
    firmware: "reference-avr/1.0.0",
    board: "press-left",
    amplifier: "hx711",
    rate: 80,
    gain: 128,
    boot,
  });
const key = (seq: number, t_us: number) => encodeDeviceLine({ kind: "key", seq, t_us, key: 1, pressed: true });

/** `count` readings from `seq` at 80 a second, arriving when they are made; the host's clock runs with the board's. */
function steady(seq: number, t_us: number, count: number, arrived_at_us: number): LineInput[] {
  return Array.from({ length: count }, (_, index) =>
    line(reading(seq + index, t_us + index * PERIOD_US, index), arrived_at_us + index * PERIOD_US),
  );
}

describe("after an open", () => {
  it("announces an epoch and drops what comes before the first LF, uncounted", () => {
    const { state, events } = feed(newLineSource("tm1"), [
      { kind: "opened" },
      line("343,84123*9DC1", 1000),
      line(reading(2, 26_843), 2000),
    ]);
    expect(events).toEqual([
      { kind: "epoch", because: "opened" },
      { kind: "reading", at_us: 2000, counts: 1000, muscle_action: null, lost: 0 },
    ]);
    expect(Object.values(state.rejects)).toEqual([0, 0, 0, 0, 0, 0]);
  });

  it("takes a hello right behind the board's empty line", () => {
    const { events } = feed(newLineSource("tm1"), [{ kind: "opened" }, line("\r", 0), line(hello(0, 1843), 500)]);
    expect(events[1]).toMatchObject({ kind: "hello", restart: false, at_us: 500 });
  });

  it("asks again where the hello was the very line that was dropped: the answer behind it tells", () => {
    const answer = (seq: number) => encodeDeviceLine({ kind: "answer", seq, t_us: 2000, command: 1, error: null });
    const { events } = feed(newLineSource("tm1"), [
      { kind: "opened" },
      line(hello(0, 1843), 500),
      line(answer(1), 600),
      line(hello(2, 2000), 700),
      line(answer(3), 800),
    ]);
    expect(events.slice(1)).toMatchObject([
      { kind: "answer" },
      { kind: "identify-wanted" },
      { kind: "hello", restart: false },
      { kind: "answer" },
    ]);
  });

  it("does not take each answer of a board whose hello cannot be read for a reason to ask again", () => {
    const answers = Array.from({ length: 1000 }, (_, at) =>
      line(
        encodeDeviceLine({ kind: "answer", seq: at, t_us: 2000 + at * 10_000, command: 1, error: null }),
        600 + at * 10_000,
      ),
    );
    const { events } = feed(newLineSource("tm1"), [{ kind: "opened" }, line("\r", 0), ...answers]);
    const asked = events.flatMap(({ kind }, at) => (kind === "identify-wanted" ? [at] : []));
    // Of 10 s: the first answer, and one 8 s later.
    expect(asked).toHaveLength(2);
    expect(events.filter(({ kind }) => kind === "answer")).toHaveLength(1000);
  });

  it("passes over empty lines without counting them", () => {
    const { state, events } = feed(opened("tm1"), [line("", 1), line("\r", 2)]);
    expect(events).toEqual([]);
    expect(Object.values(state.rejects)).toEqual([0, 0, 0, 0, 0, 0]);
  });

  it("lets an unknown kind begin nothing", () => {
    const { state, events } = feed(opened("tm1"), [line("Z,12,150000,future*9D1C", 5), line(reading(20, 7), 9)]);
    expect(events).toMatchObject([{ kind: "rejected" }, { kind: "reading", at_us: 9, lost: 0 }]);
    expect(state.rejects["unknown-kind"]).toBe(1);
  });

  it("does nothing with a line while closed", () => {
    const closed = feed(opened("tm1"), [{ kind: "closed" }]).state;
    expect(readLine(closed, line(reading(1, 1), 5))).toEqual({ state: closed, events: [] });
    const never = newLineSource("tm1");
    expect(readLine(never, line(reading(1, 1), 5))).toEqual({ state: never, events: [] });
  });
});

describe("time", () => {
  it("follows the board's clock over its wrap, and the count over its own", () => {
    const { events } = feed(opened("tm1"), steady(65_530, 2 ** 32 - 500, 20, 7_000_000));
    expect(readingsOf(events).map(({ at_us }) => at_us)).toEqual(
      Array.from({ length: 20 }, (_, index) => 7_000_000 + index * PERIOD_US),
    );
    expect(readingsOf(events).every(({ lost }) => lost === 0)).toBe(true);
  });

  it("is the board's, not the host's: a source that runs faster than real time is served as well", () => {
    const inputs = Array.from({ length: 80 * 60 }, (_, index) =>
      line(reading(index, index * PERIOD_US), Math.floor(index / 100)),
    );
    const { events } = feed(opened("tm1"), inputs);
    expect(readingsOf(events)).toHaveLength(4800);
    expect(readingsOf(events).at(-1)?.at_us).toBe(1 + 4799 * PERIOD_US);
  });

  it("goes on over a reopen by as much as the host saw pass, whatever the board's clock says", () => {
    const first = feed(opened("tm1"), steady(0, 50_000_000, 10, 1_000_000));
    const last = readingsOf(first.events).at(-1)!.at_us;
    const arrived_at_us = 1_000_000 + 9 * PERIOD_US + 3_000_000;
    const second = feed(first.state, [
      { kind: "closed" },
      { kind: "opened" },
      line("half a li", arrived_at_us),
      ...steady(900, 123, 5, arrived_at_us),
    ]);
    expect(readingsOf(second.events)[0]).toMatchObject({ at_us: last + 3_000_000, lost: 0 });
  });

  it("never decreases, over any mixture of lines, opens, closes and restarts", () => {
    const any = fc.oneof(
      {
        weight: 5,
        arbitrary: fc.record({ step: fc.constant("reading" as const), lines: fc.nat(30), us: fc.nat(400_000) }),
      },
      fc.record({ step: fc.constant("jump" as const), seq: fc.nat(65_535), t_us: fc.nat(2 ** 32 - 1) }),
      fc.record({
        step: fc.constant("hello" as const),
        t_us: fc.nat(2 ** 32 - 1),
        boot: fc.constantFrom("0001", "0002"),
      }),
      fc.record({ step: fc.constantFrom("opened" as const, "closed" as const, "junk" as const, "key" as const) }),
    );
    fc.assert(
      fc.property(fc.array(any, { maxLength: 60 }), (steps) => {
        let seq = 0;
        let t_us = 0;
        let arrived_at_us = 0;
        const inputs = steps.map((step): LineInput => {
          arrived_at_us += 10_000;
          if (step.step === "reading") {
            seq += step.lines;
            t_us += step.us;
            return line(reading(seq, t_us), arrived_at_us);
          }
          if (step.step === "jump") ({ seq, t_us } = step);
          if (step.step === "hello") {
            t_us = step.t_us;
            return line(hello(seq, t_us, step.boot), arrived_at_us);
          }
          if (step.step === "opened" || step.step === "closed") return { kind: step.step };
          if (step.step === "key") return line(key(seq & 0xffff, t_us >>> 0), arrived_at_us);
          return line("R,1,2,junk", arrived_at_us);
        });
        const { events } = feed(opened("tm1"), inputs);
        const times = events.flatMap((event) => ("at_us" in event ? [event.at_us] : []));
        expect(times).toEqual([...times].sort((a, b) => a - b));
      }),
      { numRuns: 300 },
    );
  });
});

describe("what is lost", () => {
  it("is counted from the gap in seq and told with the next reading", () => {
    const { events } = feed(opened("tm1"), [
      line(reading(65_534, 0), 1),
      line(reading(2, 4 * PERIOD_US), 2),
      line(reading(3, 5 * PERIOD_US), 3),
    ]);
    expect(readingsOf(events).map(({ lost }) => lost)).toEqual([0, 3, 0]);
  });

  it("is told with a reading even where other lines come first, and those are not missed", () => {
    const { events } = feed(opened("tm1"), [
      line(reading(1, 0), 1),
      line(key(4, 3 * PERIOD_US), 2),
      line(reading(5, 4 * PERIOD_US, 7, 2), 3),
      line(reading(6, 5 * PERIOD_US), 4),
    ]);
    expect(readingsOf(events).map(({ lost }) => lost)).toEqual([0, 2]);
    expect(events).toHaveLength(3);
  });

  it("does not hold a line of an unknown kind, but does hold a garbled one", () => {
    const { state, events } = feed(opened("tm1"), [
      line(reading(1, 0), 1),
      line("Z,2,12500,future*4B0C", 2),
      line("R,3,25000,10*0000", 3),
      line(reading(4, 37_500), 4),
    ]);
    const unknown = feed(opened("tm1"), [line("Z,12,150000,future*9D1C", 1)]);
    expect(unknown.state.rejects["unknown-kind"]).toBe(1);
    expect(state.rejects["bad-checksum"]).toBe(2);
    expect(readingsOf(events).at(-1)?.lost).toBe(2);
  });

  it("knows an unknown kind by its seq", () => {
    const { events } = feed(opened("tm1"), [
      line(reading(11, 137_500), 1),
      line("Z,12,150000,future*9D1C", 2),
      line(reading(13, 162_500), 3),
    ]);
    expect(events[1]).toEqual({ kind: "rejected", reject: "unknown-kind" });
    expect(readingsOf(events).map(({ lost }) => lost)).toEqual([0, 0]);
  });
});

describe("a restart", () => {
  const running = () => feed(opened("tm1"), [line(hello(0, 1843), 1000), ...steady(1, 14_343, 50, 13_500)]).state;

  it("is a hello of another boot: a new epoch, its time going on from the host's", () => {
    const before = running();
    const arrived_at_us = before.arrived_at_us + 900_000;
    const { events } = feed(before, [line("", arrived_at_us), line(hello(0, 1900, "77aa"), arrived_at_us)]);
    expect(events).toMatchObject([
      { kind: "epoch", because: "restarted" },
      { kind: "hello", restart: true, at_us: before.at_us + 900_000 },
    ]);
  });

  it("is a hello of another boot even where count and time would fit", () => {
    const { events } = feed(running(), [line(hello(51, 14_343 + 50 * PERIOD_US, "77aa"), 700_000)]);
    expect(events).toMatchObject([
      { kind: "epoch", because: "restarted" },
      { kind: "hello", restart: true },
    ]);
  });

  it("is not the hello that was asked for", () => {
    const before = running();
    const { events } = feed(before, [line(hello(51, 14_343 + 50 * PERIOD_US), 700_000)]);
    expect(events).toMatchObject([{ kind: "hello", restart: false, at_us: before.at_us + PERIOD_US }]);
  });

  it("is not the same boot that went on after a long silence", () => {
    const before = running();
    const { events } = feed(before, [line(hello(60, 120_000_000), 120_000_000)]);
    expect(events).toMatchObject([{ kind: "hello", restart: false }]);
  });

  it("of which only the hello before it was lost is asked about, near the wrap too", () => {
    // The board's clock was 500 us before its wrap: starting again at 1 ms looks like 1.5 ms later. The count tells.
    const before = feed(opened("tm1"), steady(40_000, 2 ** 32 - 500 - 9 * PERIOD_US, 10, 0)).state;
    const { state, events } = feed(before, [line(reading(0, 1000), 200_000)]);
    expect(events).toEqual([{ kind: "identify-wanted" }]);
    expect(state.mode).toBe("doubt");
  });
});

describe("doubt", () => {
  const running = () => feed(opened("tm1"), [line(hello(0, 1843), 1000), ...steady(1, 14_343, 50, 13_500)]).state;

  it.each([
    ["time that goes back", 51, 14_343 + 48 * PERIOD_US],
    ["a seq that stands still", 50, 14_343 + 50 * PERIOD_US],
    ["more lines than the time allows", 50 + 23, 14_343 + 49 * PERIOD_US + 12_500],
    ["fewer lines than the time asks for", 50 + 11, 14_343 + 49 * PERIOD_US + 5_000_000],
    ["a long step", 50 + 850, 14_343 + 49 * PERIOD_US + 10_000_001],
  ])("is raised by %s", (_, seq, t_us) => {
    const { state, events } = feed(running(), [line(reading(seq, t_us), 1_000_000)]);
    expect(events).toEqual([{ kind: "identify-wanted" }]);
    expect(state.mode).toBe("doubt");
  });

  it.each([
    ["a burst of lines in one moment", 50 + 16, 14_343 + 49 * PERIOD_US],
    ["as many lines as the time allows", 50 + 22, 14_343 + 49 * PERIOD_US + 12_500],
    ["one line after a silence of two seconds", 51, 14_343 + 49 * PERIOD_US + 2_000_000],
    ["as many lines as the time asks for", 50 + 12, 14_343 + 49 * PERIOD_US + 5_000_000],
    ["ten seconds of lines that were lost", 50 + 800, 14_343 + 49 * PERIOD_US + 10_000_000],
  ])("is not raised by %s", (_, seq, t_us) => {
    expect(readingsOf(feed(running(), [line(reading(seq, t_us), 1_000_000)]).events)).toHaveLength(1);
  });

  it("sets readings aside until the answer, then goes on with the same epoch", () => {
    const before = running();
    const t_us = 14_343 + 49 * PERIOD_US;
    const { events } = feed(before, [
      line(reading(7, t_us + PERIOD_US), 1_000_000),
      line(reading(52, t_us + 2 * PERIOD_US), 1_012_500),
      line(hello(53, t_us + 3 * PERIOD_US), 1_020_000),
      line(
        encodeDeviceLine({ kind: "answer", seq: 54, t_us: t_us + 3 * PERIOD_US, command: 9, error: null }),
        1_020_000,
      ),
      line(reading(55, t_us + 4 * PERIOD_US), 1_030_000),
    ]);
    expect(events).toMatchObject([
      { kind: "identify-wanted" },
      { kind: "hello", restart: false, at_us: before.at_us + 3 * PERIOD_US },
      { kind: "answer", command: 9, error: null },
      { kind: "reading", at_us: before.at_us + 4 * PERIOD_US, lost: 2 },
    ]);
  });

  it("tells what was lost on the way as well as what was set aside", () => {
    const t_us = 14_343 + 49 * PERIOD_US;
    const { events } = feed(running(), [
      line(reading(7, t_us + PERIOD_US), 1_000_000),
      line(key(8, t_us + PERIOD_US), 1_000_000),
      line(hello(60, t_us + 10 * PERIOD_US), 1_120_000),
      line(reading(61, t_us + 11 * PERIOD_US), 1_130_000),
    ]);
    // Of the lines 51..59 two were heard in doubt: 7 never came, and 1 of the two was a reading.
    expect(readingsOf(events)).toMatchObject([{ lost: 8 }]);
  });

  it("is raised by a line of an unknown kind, too", () => {
    const { events } = feed(opened("tm1"), [line(reading(11, 200_000), 1), line("Z,12,150000,future*9D1C", 2)]);
    expect(events.slice(1)).toEqual([{ kind: "rejected", reject: "unknown-kind" }, { kind: "identify-wanted" }]);
  });

  it("is not settled by an unknown kind, which is counted and was heard", () => {
    const { state, events } = feed(running(), [
      line(reading(3, 100), 1_000_000),
      line("Z,12,150000,future*9D1C", 1_000_100),
    ]);
    expect(events).toEqual([{ kind: "identify-wanted" }, { kind: "rejected", reject: "unknown-kind" }]);
    expect(state).toMatchObject({ mode: "doubt", heard: 2, lost: 1 });
  });

  it("ends in a new epoch where the same boot's time went back", () => {
    const before = running();
    const { events } = feed(before, [line(reading(51, 100), 1_000_000), line(hello(52, 200), 1_010_000)]);
    expect(events).toMatchObject([
      { kind: "identify-wanted" },
      { kind: "epoch", because: "clock" },
      { kind: "hello", restart: false, at_us: before.at_us + (1_010_000 - before.arrived_at_us) },
    ]);
  });

  it("ends in a restart where the boot is another, and tells what was set aside", () => {
    const { events } = feed(running(), [
      line(reading(3, 100), 1_000_000),
      line(reading(4, 12_600), 1_012_500),
      line(hello(5, 13_000, "0bad"), 1_013_000),
      line(reading(6, 25_100), 1_025_000),
    ]);
    expect(events).toMatchObject([
      { kind: "identify-wanted" },
      { kind: "epoch", because: "restarted" },
      { kind: "hello", restart: true },
      { kind: "reading", lost: 2 },
    ]);
  });

  it("lets keys and answers through at the last sure time: a key may be the one that ends a set", () => {
    const before = running();
    const { events } = feed(before, [line(reading(3, 100), 1_000_000), line(key(4, 200), 1_000_100)]);
    expect(events).toEqual([{ kind: "identify-wanted" }, { kind: "key", at_us: before.at_us, key: 1, pressed: true }]);
  });

  it("asks again every two seconds while nobody answers", () => {
    const asked = feed(
      running(),
      Array.from({ length: 401 }, (_, index) =>
        line(reading(3 + index, index * PERIOD_US), 1_000_000 + index * PERIOD_US),
      ),
    ).events;
    expect(asked).toEqual([{ kind: "identify-wanted" }, { kind: "identify-wanted" }, { kind: "identify-wanted" }]);
  });

  it("is over with the next open", () => {
    const { events } = feed(running(), [
      line(reading(3, 100), 1_000_000),
      { kind: "closed" },
      { kind: "opened" },
      line("", 2_000_000),
      line(reading(4, 12_600), 2_000_000),
    ]);
    expect(readingsOf(events)).toMatchObject([{ lost: 0 }]);
  });
});

describe("rejects", () => {
  it("are told by name and counted over the whole life of the source", () => {
    const first = feed(opened("tm1"), [line("x".repeat(121), 1), line("R,1,2,3", 2), line("R,1,2,3*0000", 3)]);
    const { state, events } = feed(first.state, [{ kind: "closed" }, { kind: "opened" }, line("", 4), line("?", 5)]);
    expect([...first.events, ...events]).toEqual([
      { kind: "rejected", reject: "too-long" },
      { kind: "rejected", reject: "no-checksum" },
      { kind: "rejected", reject: "bad-checksum" },
      { kind: "epoch", because: "opened" },
      { kind: "rejected", reject: "no-checksum" },
    ]);
    expect(state.rejects).toEqual({
      "too-long": 1,
      "no-checksum": 2,
      "bad-checksum": 1,
      "unknown-kind": 0,
      "bad-field": 0,
      "out-of-range": 0,
    });
  });
});
