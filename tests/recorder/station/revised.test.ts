/** What a station shows of a set that was kept, once it is revised. */
import { expect, it } from "vitest";
import { inventedSet } from "../store/invented.ts";
import { readyBench } from "./bench.ts";

it("the last end is told by the right clock once that is known, and no older set's revision takes it back", () => {
  const bench = readyBench();
  const last_ended_at = () => bench.pull(1.2, 0).last("state")?.["last_ended_at"];
  bench.give({ kind: "took-up", last_ended_at: "1970-01-01T00:03:00.000Z" });
  expect(last_ended_at()).toBe("1970-01-01T00:03:00.000Z");
  const newest = inventedSet(9, { revision: 2 });
  bench.give({ kind: "revised", set: newest });
  expect(last_ended_at()).toBe(newest.at);
  bench.give({ kind: "revised", set: inventedSet(3, { revision: 2, pain: 2 }) });
  expect(last_ended_at()).toBe(newest.at);
});
