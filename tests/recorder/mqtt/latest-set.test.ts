import { expect, test } from "vitest";
import { LatestSets } from "../../../recorder/mqtt/latest-set.ts";

const TOPIC = "tidemark/hall/station/leg-press/set";

function shownAfter(...offers: [set_id: string, set_seq: number, revision: number][]): string[] {
  const shown: string[] = [];
  const latest = new LatestSets({ publishState: (topic, payload) => shown.push(`${topic} ${payload}`) });
  for (const [set_id, set_seq, revision] of offers) latest.offer(TOPIC, JSON.stringify({ set_id, set_seq, revision }));
  return shown.map((line) => {
    expect(line.startsWith("tidemark/hall/station/leg-press/latest-set ")).toBe(true);
    const { set_id, revision } = JSON.parse(line.slice(line.indexOf("{")));
    return `${set_id}${revision}`;
  });
}

test.each<[string, [string, number, number][], string[]]>([
  [
    "newer sets replace older ones",
    [
      ["a", 1, 1],
      ["b", 2, 1],
    ],
    ["a1", "b1"],
  ],
  [
    "an outbox that catches up does not bring back old ones",
    [
      ["b", 2, 1],
      ["a", 1, 1],
    ],
    ["b1"],
  ],
  [
    "a revision of the newest replaces it",
    [
      ["a", 1, 1],
      ["a", 2, 2],
    ],
    ["a1", "a2"],
  ],
  [
    "an old revision of the newest does not",
    [
      ["a", 2, 2],
      ["a", 1, 1],
    ],
    ["a2"],
  ],
  [
    "a revision of an older set does not",
    [
      ["a", 1, 1],
      ["b", 2, 1],
      ["a", 3, 2],
    ],
    ["a1", "b1"],
  ],
  [
    "the next set comes after such a revision",
    [
      ["b", 2, 1],
      ["a", 3, 2],
      ["c", 4, 1],
    ],
    ["b1", "c1"],
  ],
  [
    "the same again is not published again",
    [
      ["a", 1, 1],
      ["a", 1, 1],
    ],
    ["a1"],
  ],
])("%s", (_what, offers, shown) => {
  expect(shownAfter(...offers)).toEqual(shown);
});

test("an erasure, another topic and a damaged row show nothing", () => {
  const shown: string[] = [];
  const latest = new LatestSets({ publishState: (topic) => shown.push(topic) });
  latest.offer(TOPIC, JSON.stringify({ set_id: "a", set_seq: 3, erased: true }));
  latest.offer("tidemark/hall/station/leg-press/effort", JSON.stringify({ set_id: "a", set_seq: 3, revision: 1 }));
  latest.offer(TOPIC, '{"set_id":"a","set_');
  expect(shown).toEqual([]);
});

test("an erased set gives way to what is left, and what was under way does not bring it back", () => {
  const shown: string[] = [];
  const latest = new LatestSets({ publishState: (_, payload) => shown.push(payload) });
  const set = (set_id: string, set_seq: number, revision = 1): string => JSON.stringify({ set_id, set_seq, revision });
  latest.offer(TOPIC, set("a", 1));
  latest.offer(TOPIC, set("b", 2));
  latest.erase(["b"]);
  latest.put(TOPIC, set("a", 1));
  latest.offer(TOPIC, set("b", 3, 2));
  expect(shown).toEqual([set("a", 1), set("b", 2), set("a", 1)]);
  // Kept and shown while the store was asked.
  latest.offer(TOPIC, set("c", 5));
  latest.put(TOPIC, set("a", 1));
  latest.put(TOPIC, null);
  expect(shown.at(-1)).toBe(set("c", 5));
  latest.erase(["c", "a"]);
  latest.put(TOPIC, null);
  expect(shown.at(-1)).toBe("");
  latest.offer(TOPIC, set("d", 9));
  expect(shown.at(-1)).toBe(set("d", 9));
});
