/** How much a log grows when things go wrong for long. */
import { expect, test } from "vitest";
import { type LogLine, Repetition } from "../../../recorder/run/repetition.ts";

const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;
const line = (level: LogLine["level"], message: string, fields: object = {}): LogLine => ({ level, fields, message });

/** What is written of lines that come every `every_ms` for `for_ms`. */
function written(every_ms: number, for_ms: number, make: (n: number) => LogLine): readonly LogLine[] {
  const repetition = new Repetition();
  const said: LogLine[] = [];
  for (let now_ms = 0, n = 0; now_ms < for_ms; now_ms += every_ms, n += 1)
    said.push(...repetition.take(make(n), now_ms));
  return [...said, ...repetition.due(for_ms, true)];
}

test("a plug with a loose contact, up and down every 2 s for an hour, is a few lines and a count", () => {
  const down = written(4000, HOUR_MS, (n) =>
    line("warn", `/dev/x fell silent for ${(n % 9) / 10} s.`, { station: "row" }),
  );
  expect(down.map(({ message }) => message)).toEqual([
    "/dev/x fell silent for 0 s.",
    "/dev/x fell silent for 0.1 s.",
    "/dev/x fell silent for 0.2 s.",
    "/dev/x fell silent for 0.3 s.",
    "/dev/x fell silent for 0.4 s.",
    "/dev/x fell silent for 0.8 s. (the last of 895 more in 60 minutes)",
  ]);
  expect(down.at(-1)?.fields).toEqual({ station: "row", more: 895 });
});

test("a day of a disk that takes nothing, tried every 5 s, is said at once and then once an hour", () => {
  const lines = written(5000, 24 * HOUR_MS, () => line("error", "running sets could not be checkpointed"));
  expect(lines).toHaveLength(5 + 24);
  expect(lines.reduce((sum, { fields }) => sum + ((fields as { more?: number }).more ?? 1), 0)).toBe((24 * 3600) / 5);
});

test("a day of a broker that comes and goes is as little, its coming included", () => {
  const lines = written(10_000, 24 * HOUR_MS, (n) =>
    n % 2 === 0
      ? line("warn", "The connection to the broker was lost: trying again.", { reason: "broker" })
      : line("info", "Connected to the broker.", { reason: "broker" }),
  );
  expect(lines).toHaveLength(2 * (5 + 24));
});

test("once an hour has passed without it, trouble is said at once again", () => {
  const repetition = new Repetition();
  const take = (now_ms: number): number => repetition.take(line("warn", "gone"), now_ms).length;
  for (let n = 0; n < 7; n++) take(n);
  expect(take(HOUR_MS + 1)).toBe(1);
  expect(repetition.due(2 * HOUR_MS + 1)).toHaveLength(1);
  expect(repetition.due(3 * HOUR_MS + 1)).toEqual([]);
  expect([1, 2, 3, 4, 5, 6].map((n) => take(3 * HOUR_MS + 1 + n))).toEqual([1, 1, 1, 1, 1, 0]);
});

test("everyday lines of a busy hour are all there", () => {
  const sets = written(2 * MINUTE_MS, HOUR_MS, () =>
    line("info", "The set is over: effort-below-floor.", { station: "row" }),
  );
  expect(sets).toHaveLength(30);
  expect(sets.some(({ fields }) => "more" in fields)).toBe(false);
});

test("stations, verbs and outcomes are told apart; ids and numbers are not", () => {
  const repetition = new Repetition();
  const take = (message: string, fields: object): number =>
    [1, 2, 3, 4, 5, 6].flatMap(() => repetition.take(line("warn", message, fields), 0)).length;
  expect(take("refused", { station: "row", verb: "end", outcome: "busy", request_id: "a" })).toBe(5);
  expect(take("refused", { station: "row", verb: "end", outcome: "busy", request_id: "b" })).toBe(0);
  expect(take("refused", { station: "press", verb: "end", outcome: "busy" })).toBe(5);
  expect(take("refused", { station: "row", verb: "zero", outcome: "busy" })).toBe(5);
  expect(take("refused", { station: "row", verb: "end", outcome: "out-of-range" })).toBe(5);
  expect(take("Set 019ab3c0-0000-7000-8000-000000000001 is gone.", {})).toBe(5);
  expect(take("Set 019ab3c0-ffff-7000-8000-00000000000a is gone.", {})).toBe(0);
});

test("words a stranger chooses cost a bounded number of lines and kinds", () => {
  const letters = (n: number): string => n.toString(2).replaceAll("0", "a").replaceAll("1", "b");
  const lines = written(10, HOUR_MS / 10, (n) => line("info", `The board is ${letters(n)}.`));
  // 256 kinds, the 60 of those that are too many, and how many more there were of them.
  expect(lines).toHaveLength(256 + 60 + 1);
  expect(lines.at(-1)?.fields).toEqual({ more: 36_000 - 256 - 60 });
});

test("what comes after an over-full hour is counted with the next, and the count of the last one is said first", () => {
  const repetition = new Repetition();
  for (let n = 0; n < 7; n++) repetition.take(line("warn", "gone"), n);
  expect(repetition.due(HOUR_MS - 1)).toEqual([]);
  expect(repetition.take(line("warn", "gone"), HOUR_MS).map(({ message }) => message)).toEqual([
    "gone (the last of 2 more in 60 minutes)",
  ]);
  expect(repetition.due(2 * HOUR_MS).map(({ message }) => message)).toEqual([
    "gone (the last of 1 more in 60 minutes)",
  ]);
  expect(repetition.due(4 * HOUR_MS)).toEqual([]);
});

test("last words, and what a debugger asked for, are never held back", () => {
  for (const level of ["fatal", "debug"] as const) {
    expect(written(1, 100, () => line(level, "again"))).toHaveLength(100);
  }
});
