/**
 * Nothing lives on from a set that is over: a whole recorder with its broker and a subscriber, its gym flat out, and what is
 * alive after so many sets. What is compiled and learnt on the way lives on too, and levels off: the short run, 180 sets,
 * still sees that (6.5 KB a set were measured) and finds whoever keeps the samples or the message of a set; TIDEMARK_LONG=1
 * takes the sets of a busy day, 510, and looks at the last third.
 */
import { fork } from "node:child_process";
import { once } from "node:events";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { expect, it, onTestFinished } from "vitest";
import type { Sample } from "./day-recorder.ts";

const STATIONS = 3;
const RUN =
  process.env["TIDEMARK_LONG"] === "1"
    ? { sets: 170, every: 15, from: 2 / 3, most_bytes_a_set: 1024, within_ms: 900_000 }
    : { sets: 60, every: 6, from: 1 / 2, most_bytes_a_set: 16_384, within_ms: 300_000 };

it(
  "the heap is as large after many sets as after a few",
  async () => {
    const directory = mkdtempSync(join(tmpdir(), "tidemark-day-"));
    onTestFinished(() => rmSync(directory, { recursive: true, force: true }));
    const child = fork(
      fileURLToPath(new URL("./day-recorder.ts", import.meta.url)),
      [directory, String(RUN.sets), String(RUN.every)],
      { execArgv: ["--expose-gc", "--import", import.meta.resolve("tsx")] },
    );
    onTestFinished(() => void child.kill("SIGKILL"));
    const samples: Sample[] = [];
    child.on("message", (sample) => samples.push(sample as Sample));
    expect(await once(child, "exit")).toEqual([0, null]);
    const all = STATIONS * RUN.sets;
    expect(samples.at(-1)?.sets).toBe(all);
    expect(bytesASet(samples.filter(({ sets }) => sets >= RUN.from * all))).toBeLessThan(RUN.most_bytes_a_set);
  },
  RUN.within_ms,
);

/** The median of the slopes between all pairs (Theil 1950, Sen 1968): one late collection does not move it. */
function bytesASet(samples: readonly Sample[]): number {
  const slopes = samples.flatMap((one, index) =>
    samples.slice(index + 1).map((later) => (later.heap_bytes - one.heap_bytes) / (later.sets - one.sets)),
  );
  slopes.sort((a, b) => a - b);
  const middle = slopes[Math.floor(slopes.length / 2)];
  if (middle === undefined) throw new Error("too few samples");
  return middle;
}
