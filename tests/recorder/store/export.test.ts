import { createHash } from "node:crypto";
import { existsSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import fc from "fast-check";
import { expect, onTestFinished, test } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { exportStore } from "../../../recorder/store/export-store.ts";
import { openTables, type Tables } from "../../../recorder/store/tables.ts";
import { amountOf, comparable, exported, faultOf, imported, said } from "./exported.ts";
import {
  instantAt,
  inventedCheck,
  inventedLog,
  inventedRecord,
  inventedSet,
  plainLog,
  toKeep,
  uuidOf,
} from "./invented.ts";
import { storePath } from "./store-path.ts";

function opened(path = storePath()): Tables {
  const tables = openTables(path);
  onTestFinished(() => tables.methods.close());
  return tables;
}
const fileBeside = (tables: Tables, name = "all.jsonl"): string => join(dirname(tables.database.path), name);

const TOPIC = "tidemark/north-hall/station/leg-press/set";
const amend = (tables: Tables, number: number, changes: Partial<SetMessage>, performed_by: string | null = "coach-1") =>
  tables.methods.revise({ set_id: uuidOf(number), changes, performed_by, revised_at: instantAt(5000), topic: TOPIC });

const planOf = (trainee: string, saved_at = instantAt(10)) => ({
  station: "leg-press",
  trainee,
  sides: ["left", "right"],
  exercise: null,
  style: "hold",
  intent: null,
  fatigue_threshold: 0.35,
  setup: { seat: "3" },
  options: {},
  warm_up: null,
  rest_s: 120,
  by_side: {},
  note: null,
  saved_at,
  performed_by: "coach-1",
});
const savePlan = (tables: Tables, plan: ReturnType<typeof planOf>) =>
  tables.database.run(
    "INSERT INTO plan (station, trainee, saved_at, performed_by, plan) VALUES (?, ?, ?, ?, ?)",
    ...[plan.station, plan.trainee, plan.saved_at, plan.performed_by, JSON.stringify(plan)],
  );

/** Two trainees, a record of each kind, and one set amended twice. */
function filled(tables: Tables): Tables {
  const { methods } = tables;
  methods.saveCalibration(inventedRecord(1));
  methods.saveCalibration(inventedRecord(2));
  methods.saveCheck(inventedCheck(3));
  methods.saveTag({ tag: "band-0142", trainee: "t-01", linked_at: instantAt(3), performed_by: "coach-1" });
  methods.saveTag({ tag: "band-0143", trainee: "t-02", linked_at: instantAt(4), performed_by: null });
  savePlan(tables, planOf("t-01"));
  savePlan(tables, planOf("t-02"));
  for (const number of [1, 2, 3, 4, 5]) {
    const trainee = number % 2 === 1 ? "t-01" : "t-02";
    const message = inventedSet(number, { trainee, calibration_id: inventedRecord(2).calibration_id });
    const log = { ...inventedLog(number), arm: { trainee, performed_by: "coach-1", number } };
    methods.keep(toKeep(message, '{"seat":"3"}', log));
  }
  amend(tables, 3, { pain: 2 });
  amend(tables, 3, { note: "knee felt stiff" }, "coach-2");
  return tables;
}

test("an export is lines of known kinds, in order, ended by their amounts and the sum of its bytes", () => {
  const tables = filled(opened());
  const path = fileBeside(tables);
  const { lines, text, bytes, counts, left_out } = exported(tables, path);
  expect(lines.map(({ kind }) => kind)).toEqual(
    "tidemark-export calibration calibration in-force in-force check tag tag plan plan set set set set set end".split(
      " ",
    ),
  );
  expect(lines[0]).toMatchObject({ format_version: 1, store: tables.store_id, site: "north-hall", trainee: null });
  const end = text.lastIndexOf('{"kind":"end"');
  expect(lines.at(-1)).toEqual({
    kind: "end",
    counts,
    sha256: createHash("sha256").update(text.slice(0, end)).digest("hex"),
  });
  expect(counts).toEqual({ calibration: 2, "in-force": 2, check: 1, tag: 2, plan: 2, set: 5 });
  expect(text.endsWith("}\n")).toBe(true);
  expect(left_out).toEqual([]);
  expect(statSync(path)).toMatchObject({ size: bytes });
  expect(statSync(path).mode & 0o777).toBe(0o640);
  expect(existsSync(`${path}.partial`)).toBe(false);
  expect(lines[12]).toMatchObject({
    setup: '{"seat":"3"}',
    performed_by: "coach-2",
    set: { set_id: uuidOf(3), revision: 3, pain: 2, note: "knee felt stiff" },
    earlier: [
      { performed_by: null, revised_at: null, set: { revision: 1, pain: null } },
      { performed_by: "coach-1", revised_at: instantAt(5000), set: { revision: 2, pain: 2, note: null } },
    ],
  });
});

test("what is kept while an export is written is not in it, and is kept", () => {
  const tables = filled(opened());
  let kept = 0;
  let looks = 0;
  const header = exported(tables, fileBeside(tables)).lines[0] as never;
  const wish = { store_path: tables.database.path, path: fileBeside(tables, "b.jsonl"), header };
  const { counts } = exportStore(wish, () => {
    looks += 1;
    // In the middle of the file.
    if (looks === 3) kept = tables.methods.keep(toKeep(inventedSet(99))).set_seq;
    return false;
  });
  expect(counts.set).toBe(5);
  expect(tables.methods.sets({}).sets.at(-1)?.set_seq).toBe(kept);
});

test("an export that is told to stop leaves nothing behind", () => {
  const tables = filled(opened());
  const path = fileBeside(tables);
  const header = exported(tables, fileBeside(tables, "b.jsonl")).lines[0] as never;
  expect(() => exportStore({ store_path: tables.database.path, path, header }, () => true)).toThrow(/broken off/);
  expect([path, `${path}.partial`].map((name) => existsSync(name))).toEqual([false, false]);
});

test("a set whose log or text is damaged is left out and named; the file is sound", () => {
  const tables = filled(opened());
  tables.database.run("UPDATE set_log SET log = x'0101000000000000' WHERE first_set_seq = 2");
  tables.database.run("UPDATE change_log SET message = '{' WHERE set_id = ?", uuidOf(4));
  const path = fileBeside(tables);
  const { counts, left_out } = exported(tables, path);
  expect(counts.set).toBe(3);
  expect(left_out).toEqual([
    { set_id: uuidOf(2), why: expect.stringContaining("check sum") },
    { set_id: uuidOf(4), why: "its text is damaged" },
  ]);
  expect(said(path)[0]?.is).toBe("sound");
});

test("one trainee's export has their sets, plan, tag and records, and nobody else's code", () => {
  const tables = filled(opened());
  // Set 4 was t-02's first and is t-01's now; its log still says who was set up.
  amend(tables, 4, { trainee: "t-01" });
  const path = fileBeside(tables);
  const { text, counts, lines } = exported(tables, path, "t-01");
  expect(counts).toEqual({ calibration: 1, "in-force": 0, check: 0, tag: 1, plan: 1, set: 4 });
  const logs = lines.filter(({ kind }) => kind === "set").map(({ log }) => Buffer.from(log as string, "base64"));
  const fresh = opened();
  imported(fresh, path);
  expect(logs).toHaveLength(4);
  for (const code of ["t-02", "coach-1", "coach-2", "tech-1"]) expect(text).not.toContain(code);
  for (const number of [1, 3, 4, 5]) {
    const { message, log } = fresh.methods.set(uuidOf(number))!;
    expect(message.trainee).toBe("t-01");
    expect(plainLog(log)).toEqual({
      ...plainLog(inventedLog(number)),
      arm: { trainee: "t-01", performed_by: null, number },
    });
  }
  // The earlier revision of set 4 named somebody else.
  expect(lines.find(({ set }) => (set as SetMessage)?.set_id === uuidOf(4))).toMatchObject({ earlier: [] });
  expect(lines.find(({ set }) => (set as SetMessage)?.set_id === uuidOf(3))).toMatchObject({
    earlier: [{ performed_by: null }, { performed_by: null }],
  });
});

test("a trainee of whom nothing is kept has no export", () => {
  const tables = filled(opened());
  expect(() => exported(tables, fileBeside(tables), "t-99")).toThrow("Nothing is kept here of t-99");
  expect(existsSync(fileBeside(tables))).toBe(false);
});

test("a trainee's own file adds nothing to the store it came from, and contradicts nothing there", () => {
  const tables = filled(opened());
  const path = fileBeside(tables);
  exported(tables, path, "t-01");
  const pieces = imported(tables, path);
  expect(amountOf(pieces, "imported")).toEqual({ sets: 0, plans: 0, tags: 0, calibrations: 0, checks: 0 });
  expect(pieces.flatMap(({ differing }) => differing)).toEqual([]);
});

const amendments = fc.array(
  fc.record({
    of: fc.nat(11),
    changes: fc.oneof(
      fc.record({ pain: fc.integer({ min: 0, max: 10 }) }),
      fc.record({ note: fc.constantFrom("left foot slipped", "früh müde", "…") }),
      fc.record({ trainee: fc.constantFrom("t-01", "t-02", null) }),
      fc.record({ void: fc.boolean() }),
    ),
    by: fc.constantFrom("coach-1", null),
  }),
  { maxLength: 12 },
);
const someSets = fc.uniqueArray(
  fc.record({
    number: fc.integer({ min: 1, max: 200 }),
    station: fc.constantFrom("leg-press", "old-row"),
    trainee: fc.constantFrom("t-01", "t-02", null),
    setup: fc.constantFrom("", '{"seat":"3"}', '{"pin":"ü \\" 7"}'),
    readings: fc.integer({ min: 0, max: 300 }),
  }),
  { selector: ({ number }) => number, maxLength: 40 },
);

function inventedStore(
  sets: typeof someSets extends fc.Arbitrary<infer T> ? T : never,
  changes: typeof amendments extends fc.Arbitrary<infer T> ? T : never,
): Tables {
  const tables = openTables(storePath());
  for (const { number, station, trainee, setup, readings } of sets) {
    if (number % 7 === 0) tables.methods.saveCalibration(inventedRecord(number, { station }));
    if (number % 5 === 0) tables.methods.saveCheck(inventedCheck(number, { station }));
    if (number % 9 === 0) savePlan(tables, planOf(`t-${number}`));
    tables.methods.keep(toKeep(inventedSet(number, { station, trainee }), setup, inventedLog(number, readings)));
  }
  for (const { of, changes: change, by } of changes) {
    const set = sets[of];
    if (set !== undefined) amend(tables, set.number, change, by);
  }
  return tables;
}

/** What histories and trends are made of, in the order of first keeping. */
const narrowRows = (tables: Tables): object[] =>
  tables.database
    .all<Record<string, unknown>>("SELECT * FROM kept_set ORDER BY first_set_seq")
    .map((row) => ({ ...row, first_set_seq: null, set_seq: null }));

test("any store comes back from its export as it was, but for its numbers", () => {
  fc.assert(
    fc.property(someSets, amendments, (sets, changes) => {
      const one = inventedStore(sets, changes);
      const other = openTables(storePath());
      try {
        const path = fileBeside(one);
        const out = exported(one, path);
        const pieces = imported(other, path);
        expect(amountOf(pieces, "imported")["sets"] ?? 0).toBe(sets.length);
        expect(comparable(exported(other, fileBeside(other)).lines)).toEqual(comparable(out.lines));
        const numberless = (tables: Tables) =>
          tables.methods.sets({}).sets.map((set) => JSON.stringify({ ...set, store: null, set_seq: null }));
        // By number of the change log the order may be another: here it is that of the first keeping.
        expect(numberless(other).sort()).toEqual(numberless(one).sort());
        expect(narrowRows(other)).toEqual(narrowRows(one));
        for (const station of ["leg-press", "old-row"]) {
          expect(other.methods.latest(station)?.set_id).toBe(one.methods.latest(station)?.set_id);
          expect(other.methods.calibrations(station)).toEqual(one.methods.calibrations(station));
          expect(other.methods.checks(station)).toEqual(one.methods.checks(station));
          expect(other.methods.calibrationInForce(station)).toBeNull();
        }
        expect(other.methods.outboxSize()).toBe(0);
        // Again: nothing is new, and nothing is written.
        const again = imported(other, path);
        expect(Object.values(amountOf(again, "imported")).every((amount) => amount === 0)).toBe(true);
        expect(again.flatMap(({ differing }) => differing)).toEqual([]);
      } finally {
        one.methods.close();
        other.methods.close();
      }
    }),
    { numRuns: 50 },
  );
}, 60_000);

test("a file that was cut or changed anywhere is refused", () => {
  const tables = filled(opened());
  const path = fileBeside(tables);
  const { text } = exported(tables, path);
  const bytes = Buffer.from(text);
  const broken = fileBeside(tables, "broken.jsonl");
  fc.assert(
    fc.property(fc.nat(bytes.length - 1), fc.integer({ min: 1, max: 255 }), fc.boolean(), (at, flip, cut) => {
      const changed = cut ? bytes.subarray(0, at) : Buffer.from(bytes);
      if (!cut) changed[at] = (changed[at] as number) ^ flip;
      const fault = faultOf(broken, changed);
      expect(fault?.line).toBeGreaterThanOrEqual(1);
      expect(fault?.line).toBeLessThanOrEqual(17);
      expect(fault?.what).toMatch(/^\S.*[^.]$/);
    }),
    { numRuns: 300 },
  );
}, 60_000);

const hostile = (lines: readonly unknown[]): string => {
  const text = lines.map((line) => `${typeof line === "string" ? line : JSON.stringify(line)}\n`).join("");
  const counts: Record<string, number> = { calibration: 0, "in-force": 0, check: 0, tag: 0, plan: 0, set: 0 };
  for (const line of lines) {
    const kind = (line as { kind?: string })?.kind ?? "";
    if (kind in counts) counts[kind] = (counts[kind] ?? 0) + 1;
  }
  const sha256 = createHash("sha256").update(text).digest("hex");
  return `${text}${JSON.stringify({ kind: "end", counts, sha256 })}\n`;
};

test("what no export would hold is refused, with the line and why", () => {
  const tables = filled(opened());
  const { lines } = exported(tables, fileBeside(tables));
  const file = fileBeside(tables, "hostile.jsonl");
  const [header, ...rest] = lines;
  const of = (kind: string) => rest.find((line) => line["kind"] === kind) as Record<string, object>;
  const set = of("set");
  const record = of("calibration");
  const refusal = (...given: unknown[]): string => {
    const fault = faultOf(file, hostile([header, ...given]));
    return fault === null ? "taken" : `${fault.line}: ${fault.what}`;
  };
  expect(refusal(...rest.slice(0, -1))).toBe("taken");
  expect(refusal()).toBe("taken");
  expect(refusal(set, set)).toBe("3: its set stands in the file twice");
  expect(refusal(of("tag"), of("tag"))).toBe("3: its tag stands in the file twice");
  expect(refusal(record, record)).toBe("3: its calibration stands in the file twice");
  expect(refusal({ ...set, extra: 1 })).toBe("2: extra is not a known key");
  expect(refusal({ ...set, kind: "sets" })).toBe("2: its kind is not one of an export's");
  expect(refusal({ ...set, log: "AQE=" })).toMatch(/^2: the input log cannot be read/);
  expect(refusal({ ...set, log: "not base64" })).toMatch(/^2: log /);
  expect(refusal({ ...set, set: { ...set["set"], side: "top" } })).toBe("2: set.side must be left, right or both");
  expect(refusal({ ...set, set: { ...set["set"], trainee: "a name" } })).toMatch(/^2: set.trainee must be/);
  expect(refusal({ ...set, set: { ...set["set"], note: "\u001b[2J" } })).toBe("2: set.note must be one line of text");
  expect(refusal({ ...set, earlier: [{ set: set["set"], performed_by: null, revised_at: null }] })).toBe(
    "2: its revisions are not in their order",
  );
  expect(refusal({ ...record, record: { ...record["record"], counts_per_N: 0 } })).toBe(
    "2: counts_per_N must not be 0",
  );
  expect(refusal({ ...record, record: { ...record["record"], station: "../../etc" } })).toMatch(/^2: record.station/);
  expect(refusal(header)).toBe("2: a second file begins here: import one file at a time");
  expect(refusal("", set)).toBe("2: it is not JSON, or cut off");
  expect(refusal("[]")).toBe("2: it is not a JSON object");
  expect(refusal("[".repeat(100_000))).toBe("2: it nests deeper than anything in an export");
  expect(refusal(`{"kind":"set","log":"${"A".repeat(17 * 1024 * 1024)}"}`)).toBe("2: it is longer than 16777216 bytes");
  expect(faultOf(file, hostile([{ ...header, format_version: 2 }]))?.what).toMatch(/newer version of tidemark/);
  expect(faultOf(file, hostile([set]))).toEqual({ line: 1, what: "the file does not begin as an export does" });
  expect(faultOf(file, "")).toEqual({ line: 1, what: "the file is empty" });
  expect(faultOf(file, Buffer.alloc(4096))).toMatchObject({ line: 1 });
  expect(faultOf(file, `${hostile([header, set])}\n`)).toEqual({
    line: 4,
    what: "the file goes on after its `end` line",
  });
  expect(faultOf(file, hostile([{ ...header, trainee: "t-02" }, set]))?.what).toBe(
    "it is not of t-02, as the file says",
  );
});

test("the newest stays the newest in a store that has sets, and the imported ones keep their order below", () => {
  const from = filled(opened());
  const path = fileBeside(from);
  exported(from, path);
  const into = opened();
  for (const number of [50, 51]) into.methods.keep(toKeep(inventedSet(number, { trainee: "t-01" })));
  imported(into, path);
  expect(into.methods.latest("leg-press")?.set_id).toBe(uuidOf(51));
  const order = into.database.all<{ first_set_seq: number; set_id: string }>(
    "SELECT first_set_seq, set_id FROM kept_set ORDER BY first_set_seq",
  );
  expect(order.map((row) => [row.first_set_seq, Number.parseInt(row.set_id.slice(-12), 16)])).toEqual([
    ...[-4, -3, -2, -1, 0].map((key, index) => [key, index + 1]),
    ...[1, 2].map((key, index) => [key, 50 + index]),
  ]);
  // An imported set is amended as any other, and stays where it is.
  amend(into, 3, { exertion: 8 });
  expect(into.methods.set(uuidOf(3))?.message).toMatchObject({ revision: 4, exertion: 8, store: into.store_id });
  expect(into.methods.latest("leg-press")?.set_id).toBe(uuidOf(51));
  expect(into.methods.outboxSize()).toBe(3);
  // And the next set of this store is the newest.
  into.methods.keep(toKeep(inventedSet(60)));
  expect(into.methods.latest("leg-press")?.set_id).toBe(uuidOf(60));
});

test("history, and what was known before a set, reckon with imported sets", () => {
  const from = opened();
  for (const number of [1, 2, 3]) from.methods.keep(toKeep(inventedSet(number)));
  const path = fileBeside(from);
  exported(from, path);
  const into = opened();
  into.methods.keep(toKeep(inventedSet(300, { best_force_N: 700 })));
  imported(into, path);
  const query = {
    station: "leg-press",
    trainee: "t-01",
    exercise: "leg-press",
    side: "left",
    style: "hold",
    intent: "maximal",
    setup: "seat=3",
    resting_subtracted: false,
    day_starts_at: instantAt(0),
    now: instantAt(400),
  } as const;
  expect(into.methods.history(query)).toMatchObject({
    comparable: { set_id: uuidOf(300) },
    today_best_force_N: 1003,
    sets_here: 4,
    set_of_day: 5,
    last_set_ended_at: instantAt(301),
  });
  expect(
    into.methods.before({ set_id: uuidOf(300), trainee: "t-01", side: "left", day_starts_at: instantAt(0) }),
  ).toEqual({ today_best_force_N: 1003, set_of_day: 4, last_set_ended_at: instantAt(4) });
  expect(
    into.methods.before({ set_id: uuidOf(2), trainee: "t-01", side: "left", day_starts_at: instantAt(0) }),
  ).toEqual({ today_best_force_N: 1001, set_of_day: 2, last_set_ended_at: instantAt(2) });
});

const orderOf = (tables: Tables): string[] =>
  tables.database
    .all<{ set_id: string }>("SELECT set_id FROM kept_set ORDER BY first_set_seq")
    .map((row) => row.set_id);

test("an import broken off after any piece, with sets kept meanwhile, is finished by importing again, in order", () => {
  const from = opened();
  for (let number = 1; number <= 60; number++) from.methods.keep(toKeep(inventedSet(number)));
  const path = fileBeside(from);
  exported(from, path);
  for (const pieces of [1, 2, 3]) {
    for (const local of [0, 1, 2]) {
      const into = opened();
      if (local === 2) into.methods.keep(toKeep(inventedSet(900)));
      imported(into, path, pieces);
      expect(orderOf(into).length).toBeLessThan(60);
      if (local > 0) into.methods.keep(toKeep(inventedSet(901)));
      const again = imported(into, path);
      expect(amountOf(again, "known")["sets"]).toBe(16 * pieces);
      const theirs = Array.from({ length: 60 }, (_, index) => uuidOf(index + 1));
      const own = local === 0 ? [] : local === 1 ? [uuidOf(901)] : [uuidOf(900), uuidOf(901)];
      expect(orderOf(into)).toEqual([...theirs, ...own]);
      expect(into.methods.sets({}).sets).toHaveLength(60 + own.length);
    }
  }
});

test("a box that takes over another's file again and again has the other's newest as its newest", () => {
  const from = opened();
  const into = opened();
  for (let number = 1; number <= 9; number++) {
    from.methods.keep(toKeep(inventedSet(number)));
    if (number % 3 !== 0) continue;
    const path = fileBeside(from, `${number}.jsonl`);
    exported(from, path);
    imported(into, path);
    expect(into.methods.latest("leg-press")?.set_id).toBe(uuidOf(number));
  }
  expect(orderOf(into)).toEqual(orderOf(from));
});

test("what is here stays: a later revision, another set, tag, plan and record are told apart and left", () => {
  const from = filled(opened());
  amend(from, 1, { exertion: 9 });
  const path = fileBeside(from);
  const into = opened();
  for (const number of [1, 2]) into.methods.keep(toKeep(inventedSet(number, { best_force_N: 1 })));
  into.methods.saveTag({ tag: "band-0142", trainee: "t-77", linked_at: instantAt(1), performed_by: null });
  savePlan(into, planOf("t-01", instantAt(11)));
  savePlan(into, { ...planOf("t-02", instantAt(9)), fatigue_threshold: 0.2 });
  into.methods.importCalibration(inventedRecord(1, { note: "another hand" }));
  exported(from, path);
  const pieces = imported(into, path);
  expect(amountOf(pieces, "imported")).toEqual({ sets: 3, plans: 1, tags: 1, calibrations: 1, checks: 1 });
  expect(amountOf(pieces, "known")).toEqual({ sets: 2, plans: 1, tags: 1, calibrations: 1, checks: 0 });
  expect(pieces.reduce((sum, { later }) => sum + later, 0)).toBe(1);
  expect(pieces.flatMap(({ differing }) => differing)).toEqual([
    { kind: "calibrations", id: inventedRecord(1).calibration_id },
    { kind: "tags", id: "band-0142" },
    { kind: "plans", id: "t-01 at leg-press" },
    { kind: "sets", id: uuidOf(2) },
  ]);
  expect(into.methods.tag("band-0142")?.trainee).toBe("t-77");
  expect(into.methods.set(uuidOf(1))?.message).toMatchObject({ best_force_N: 1, revision: 1 });
  expect(into.methods.calibration(inventedRecord(1).calibration_id)?.note).toBe("another hand");
});

test("a set that was erased here is not brought back", () => {
  const from = filled(opened());
  const path = fileBeside(from);
  exported(from, path);
  const into = opened();
  into.database.run(
    "INSERT INTO change_log (set_id, revision, message) VALUES (?, 2, ?)",
    ...[uuidOf(2), JSON.stringify({ set_id: uuidOf(2), erased: true })],
  );
  const pieces = imported(into, path);
  expect(pieces.reduce((sum, { erased }) => sum + erased, 0)).toBe(1);
  expect(into.methods.set(uuidOf(2))).toBeNull();
  expect(orderOf(into)).toHaveLength(4);
});

test("imported records and checks lie beside the store as files, and none is in force", () => {
  const from = filled(opened());
  const path = fileBeside(from);
  exported(from, path);
  const into = opened();
  imported(into, path);
  const beside = `${into.database.path}-calibrations`;
  const { calibration_id } = inventedRecord(2);
  expect(JSON.parse(readFileSync(join(beside, `leg-press-${calibration_id}.json`), "utf8"))).toEqual(inventedRecord(2));
  expect(JSON.parse(readFileSync(join(beside, "leg-press-in-force.json"), "utf8"))).toMatchObject({ in_force: null });
  expect(existsSync(join(beside, `leg-press-check-${inventedCheck(3).check_id}.json`))).toBe(true);
});

test("a piece that cannot be written whole is not written at all", () => {
  const from = filled(opened());
  const path = fileBeside(from);
  exported(from, path);
  const into = opened();
  // Where the records' folder would be there is a file.
  writeFileSync(`${into.database.path}-calibrations`, "");
  expect(() => imported(into, path)).toThrow(/importPiece/);
  expect(into.methods.calibrations("leg-press")).toEqual([]);
  const sets = said(path)
    .flatMap((word) => (word.is === "piece" ? [word.piece] : []))
    .at(-1);
  const bad = {
    ...sets!,
    calibrations: [],
    checks: [],
    sets: [...sets!.sets, { ...sets!.sets[0]!, set_id: "x", revisions: [] }],
    after: null,
  };
  expect(() => into.methods.importPiece(bad)).toThrow();
  expect(into.methods.sets({}).sets).toEqual([]);
  expect(into.methods.tags()).toEqual([]);
});
