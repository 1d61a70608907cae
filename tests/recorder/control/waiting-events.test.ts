import { expect, test } from "vitest";
import type { StationTopic } from "../../../protocol/messages/topics.ts";
import type { WatchEvent } from "../../../recorder/control/ports.ts";
import { createWaitingEvents } from "../../../recorder/control/waiting-events.ts";

const event = (station: string, topic: StationTopic, message: number): WatchEvent => ({
  station,
  topic,
  message: { n: message },
});

const numberOf = ({ message }: WatchEvent): number => (message as { readonly n: number }).n;

const drained = (waiting: ReturnType<typeof createWaitingEvents>): string[] => {
  const said: string[] = [];
  for (let next = waiting.next(); next !== undefined; next = waiting.next()) {
    said.push(`${next.station} ${next.topic} ${numberOf(next)}`);
  }
  return said;
};

test("of live values and standing states the newest waits, of efforts and sets all do, in order", () => {
  const waiting = createWaitingEvents();
  for (const [topic, message] of [
    ["live", 1],
    ["effort", 2],
    ["state", 3],
    ["live", 4],
    ["effort", 5],
    ["set", 6],
    ["sensor", 7],
    ["sensor", 8],
    ["state", 9],
  ] as const) {
    waiting.push(event("row", topic, message));
  }
  waiting.push(event("leg-press", "live", 10));
  expect(drained(waiting)).toEqual([
    "row effort 2",
    "row live 4",
    "row effort 5",
    "row set 6",
    "row sensor 8",
    "row state 9",
    "leg-press live 10",
  ]);
  expect(waiting.next()).toBeUndefined();
});

test("only so many wait, and taking one makes room for one", () => {
  const waiting = createWaitingEvents();
  for (let i = 0; i < 256; i++) expect(waiting.push(event("row", "effort", i))).toBe(true);
  expect(waiting.push(event("row", "set", 256))).toBe(false);
  expect(waiting.push(event("row", "live", 1))).toBe(true);
  expect(numberOf(waiting.next()!)).toBe(0);
  expect(waiting.push(event("row", "set", 257))).toBe(true);
  expect(waiting.push(event("row", "set", 258))).toBe(false);
});
