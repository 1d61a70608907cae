import { resolve } from "node:path";
import { afterAll, beforeAll, beforeEach, expect, test } from "vitest";
import { done, refused } from "../../../protocol/requests/response.ts";
import { sayAmounts, sayBytes } from "../../../recorder/cli/care/moving.ts";
import { cli } from "./fake-terminal.ts";
import { type Running, running } from "./running.ts";

const NONE = { sets: 0, plans: 0, tags: 0, calibrations: 0, checks: 0 };

let here: Running;
let heard: unknown[] = [];
beforeAll(async () => {
  here = await running();
  const exported = { ...NONE, sets: 12, plans: 1, bytes: 1_234_567, notes: ["The set 7 is not in the file: so."] };
  Object.assign(here.gym.care, {
    exportTo: async (args: { readonly path: string }) => {
      heard.push(args);
      if (args.path.endsWith("there.jsonl"))
        return refused("not-permitted", "It is there already.", "Name another file.");
      return done({ path: args.path, ...exported });
    },
    importFrom: async (path: string, performed_by: string | null) => {
      heard.push({ path, performed_by });
      const notes = ["Put it in force with calibration-use."];
      return done({ path, imported: NONE, known: { ...NONE, sets: 1, tags: 2 }, notes });
    },
  });
});
afterAll(() => here.stop());
beforeEach(() => {
  heard = [];
});
const service = (...words: string[]) => cli(...words, "--socket", here.service_socket);

test("export names a whole path, wherever it is typed, and says what is in the file", async () => {
  const { exit, out } = await service("export", "some/all.jsonl", "--trainee", "T-07", "--performed-by", "P-01");
  const path = resolve("some/all.jsonl");
  expect(heard).toEqual([{ path, trainee: "T-07", performed_by: "P-01" }]);
  expect(out).toBe(`written to ${path} (1.2 MB): 12 sets, 1 plan\nThe set 7 is not in the file: so.`);
  expect(exit).toBe(0);
  const { out: json } = await service("export", "/var/all.jsonl", "--json");
  expect(JSON.parse(json)).toMatchObject({ path: "/var/all.jsonl", sets: 12 });
});

test("import says what is new and what was here, and the recorder's notes in the words of commands", async () => {
  const { exit, out } = await service("import", "all.jsonl", "--performed-by", "P-01");
  const path = resolve("all.jsonl");
  expect(heard).toEqual([{ path, performed_by: "P-01" }]);
  expect(out).toBe(
    `new from ${path}: nothing\nhere already: 1 set, 2 tags\nPut it in force with \`calibrations --use\`.`,
  );
  expect(exit).toBe(0);
});

test("a refusal is said, exit 1; a code that is none and a missing file are wrong usage, exit 2", async () => {
  expect(await service("export", "/tmp/there.jsonl")).toMatchObject({
    exit: 1,
    error: expect.stringContaining("It is there already. Name another file."),
  });
  expect(await service("export", "/tmp/x.jsonl", "--trainee", "a name")).toMatchObject({
    exit: 2,
    error: expect.stringContaining("--trainee must be 1 to 40"),
  });
  expect(await service("import")).toMatchObject({ exit: 2, error: expect.stringContaining("FILE is missing") });
  expect(heard).toHaveLength(1);
});

test("the door for everybody takes neither", async () => {
  for (const verb of ["export", "import"]) {
    expect(await cli(verb, "/tmp/x.jsonl", "--socket", here.socket)).toMatchObject({
      exit: 1,
      error: expect.stringContaining("service"),
    });
  }
  expect(heard).toEqual([]);
});

test("amounts and sizes in words", () => {
  expect(sayAmounts(NONE)).toBe("nothing");
  expect(sayAmounts({ sets: 2, plans: 1, tags: 0, calibrations: 1, checks: 3 })).toBe(
    "2 sets, 1 plan, 1 calibration, 3 checks",
  );
  expect([sayBytes(1), sayBytes(99_000), sayBytes(100_000), sayBytes(549_710_454)]).toEqual([
    "1 kB",
    "99 kB",
    "0.1 MB",
    "549.7 MB",
  ]);
});
