/** Many kept sets judged again: real logs, judged by the rules as they are, through the socket. */
import { expect, onTestFinished, test } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { InputLog } from "../../../recorder/ports.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { type Bench, holdCurve, readyBench } from "../station/bench.ts";
import { toKeep, uuidOf } from "../store/invented.ts";
import { storePath } from "../store/store-path.ts";
import { cli } from "./fake-terminal.ts";
import { running } from "./running.ts";

interface Kept {
  readonly message: SetMessage;
  readonly log: InputLog;
}

/** A hold of 1000 N that sinks until it is over, to a loss of 40 %. */
function hold(): Kept {
  const bench: Bench = readyBench()
    .begin({ style: "hold", fatigue_threshold: 0.4 })
    .pull(0.5, 0)
    .pull(30, holdCurve(1000, 8, 25));
  bench.ask("end");
  const [kept] = bench.kept;
  if (kept === undefined) throw new Error("no set");
  return kept;
}

async function recorderOf(sets: readonly Kept[]) {
  const tables = openTables(storePath());
  for (const [index, { message, log }] of sets.entries()) {
    tables.methods.keep(toKeep({ ...message, set_id: uuidOf(index + 1) }, "", log));
  }
  const here = await running({
    record: {
      sets: async (query) => tables.methods.sets(query),
      set: async (set_id) => tables.methods.set(set_id),
    },
  });
  onTestFinished(async () => {
    await here.stop();
    tables.methods.close();
  });
  const station = sets[0]!.message.station;
  return (...words: string[]) => cli("replay", "--station", station, ...words, "--socket", here.socket);
}

const ORDINARY = hold();
const OF_TOMORROW: Kept = { ...ORDINARY, log: { ...ORDINARY.log, events: [{ before: 0, event: { kind: "new" } }] } };

test("a newer engine's verdict stands beside what an older one kept, differences marked", async () => {
  const older: Kept = { ...ORDINARY, message: { ...ORDINARY.message, engine: "0" } };
  const best_N = ORDINARY.message.best_force_N ?? 0;
  const otherwise: Kept = { ...ORDINARY, message: { ...older.message, best_force_N: best_N + 50 } };
  const ask = await recorderOf([older, otherwise, ORDINARY]);
  const { exit, out, error } = await ask();
  expect([exit, error]).toEqual([0, ""]);
  const [head, first, second, third, , summary] = out.split("\n");
  expect(head).toMatch(/^ +started +station +trainee +best +loss +efforts +time +ended by +engine +set$/);
  expect(first).toMatch(/^ .* 0 -> 1 +01930000-0000-7000-8000-000000000001$/);
  expect(second).toMatch(/^\*.* \d+ N -> \d+ N .* 0 -> 1 /);
  expect(third).not.toContain("->");
  expect(summary).toBe("2 of 3 to the same result");
});

test("at another loss", async () => {
  const ask = await recorderOf([ORDINARY]);
  const { out } = await ask("--loss", "30");
  expect(out).toMatch(/^\*.* -> .* s /m);
  expect(out).toMatch(/^0 of 1 to the same result$/m);
});

test("what cannot be judged is listed with its reason, and fails only where nothing could be", async () => {
  const both = await (await recorderOf([OF_TOMORROW, ORDINARY]))();
  expect([both.exit, both.error]).toEqual([0, ""]);
  expect(both.out).toContain("1 of 1 to the same result\nnot judged: 1\n  01930000-0000-7000-8000-000000000001: ");
  expect(both.out).toContain("an event that this version cannot read");
  const none = await (await recorderOf([OF_TOMORROW]))();
  expect([none.exit, none.error]).toEqual([1, "the one set that fits cannot be judged again"]);
});

test("--json: a pair a line, oldest first", async () => {
  const ask = await recorderOf([ORDINARY, OF_TOMORROW]);
  const lines = (await ask("--json", "--loss", "30")).out.split("\n").map((line) => JSON.parse(line));
  expect(lines).toMatchObject([
    { kept: { set_seq: 1, fatigue_threshold: 0.4 }, again: { set_seq: 1, fatigue_threshold: 0.3 }, is_same: false },
    { kept: { set_seq: 2 }, again: null, is_same: false },
  ]);
  expect(lines[1].why).toContain("cannot be judged again");
});

test("only the newest so many; nothing that fits is no failure", async () => {
  const ask = await recorderOf([ORDINARY, ORDINARY, ORDINARY]);
  expect((await ask("--limit", "2")).out).toContain("2 of 2 to the same result");
  expect(await ask("--day", "1999-12-31")).toEqual({ exit: 0, out: "no set is kept yet that fits", error: "" });
});

test.each<[string[], string]>([
  [[], "give SET_ID, or choose sets, as in: tidemark replay --trainee T-07 --loss 30"],
  [[uuidOf(1), "--day", "2026-11-24"], "SET_ID is one set: leave out the flags that choose among many"],
])("%j is wrong usage", async (words, error) => {
  expect(await cli("replay", ...words)).toEqual({ exit: 2, out: "", error });
});
