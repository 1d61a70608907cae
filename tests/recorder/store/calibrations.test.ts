import { readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { beforeEach, describe, expect, test } from "vitest";
import type { SavedZero } from "../../../recorder/ports.ts";
import { STEPS } from "../../../recorder/store/steps.ts";
import {
  openTables,
  openTablesWithCalibrations,
  type StoreMethods,
  type Tables,
} from "../../../recorder/store/tables.ts";
import { saveZero } from "../../../recorder/store/zeros.ts";
import { instantAt, inventedCheck, inventedRecord, uuidOf } from "./invented.ts";
import { storePath } from "./store-path.ts";

let path: string;
let tables: Tables;
let store: StoreMethods;

function open(): void {
  tables = openTables(path);
  store = tables.methods;
}

function reopen(): void {
  store.close();
  open();
}

/** The store's file is damaged; what lies beside it is taken over. */
async function reopenDamaged(): Promise<void> {
  store.close();
  writeFileSync(path, "garbage".repeat(900));
  tables = await openTablesWithCalibrations(path);
  store = tables.methods;
}

/** Neither now nor at any later start can a file be written beside the store. */
function blockFiles(): void {
  rmSync(`${path}-calibrations`, { recursive: true, force: true });
  writeFileSync(`${path}-calibrations`, "in the way");
}

beforeEach(() => {
  path = storePath();
  open();
  return () => store.close();
});

const use = (number: number, minutes: number, performed_by: string | null = null) => ({
  station: "leg-press",
  calibration_id: inventedRecord(number).calibration_id,
  at: instantAt(minutes),
  performed_by,
});

describe("calibrations", () => {
  test("are kept for ever, the last one is in force, and saving it again changes nothing", () => {
    expect(store.calibrationInForce("leg-press")).toBeNull();
    const [first, second, other] = [inventedRecord(1), inventedRecord(2), inventedRecord(3, { station: "row" })];
    for (const record of [first, second, second, other]) store.saveCalibration(record);
    reopen();
    expect(tables.opened_with).toBeNull();
    expect(store.calibrationInForce("leg-press")).toEqual(second);
    expect(store.calibrations("leg-press")).toEqual([second, first]);
    expect(store.calibration(first.calibration_id)).toEqual(first);
    expect(store.calibration(uuidOf(1))).toBeNull();
    expect(store.calibrations("nowhere")).toEqual([]);
    const inForce = tables.database.all<{ calibration_id: string; at: string }>(
      "SELECT calibration_id, at FROM calibration_in_force WHERE station = 'leg-press' ORDER BY since",
    );
    expect(inForce.map((row) => row.calibration_id)).toEqual([first.calibration_id, second.calibration_id]);
  });

  test("one whose file cannot be written is not in force either, now or after a restart", () => {
    store.saveCalibration(inventedRecord(1));
    blockFiles();
    // The directory's name is taken: EEXIST, of the system and not of the record.
    expect(() => store.saveCalibration(inventedRecord(2))).toThrow(expect.objectContaining({ code: "other" }));
    reopen();
    expect(store.calibrationInForce("leg-press")).toEqual(inventedRecord(1));
    expect(store.calibrations("leg-press")).toEqual([inventedRecord(1)]);
  });

  test("are newest first by when they were kept, whatever a clock said", () => {
    store.saveCalibration(inventedRecord(2));
    store.saveCalibration(inventedRecord(1));
    expect(store.calibrations("leg-press")).toEqual([inventedRecord(1), inventedRecord(2)]);
    expect(store.calibrationInForce("leg-press")).toEqual(inventedRecord(1));
  });

  test("lie beside the store as JSON, and a store without any takes over those that can be read", async () => {
    const directory = `${path}-calibrations`;
    for (const number of [1, 2]) store.saveCalibration(inventedRecord(number));
    expect(readdirSync(directory).sort()).toEqual([
      ...[1, 2].map((number) => `leg-press-${inventedRecord(number).calibration_id}.json`),
      "leg-press-in-force.json",
    ]);
    const file = join(directory, `leg-press-${inventedRecord(1).calibration_id}.json`);
    expect(JSON.parse(readFileSync(file, "utf8"))).toEqual(inventedRecord(1));
    writeFileSync(join(directory, "torn.json"), '{"record_version":1,');
    writeFileSync(join(directory, "stranger.json"), '{"record_version":1}');
    await reopenDamaged();
    expect(tables.opened_with).toContain(`Calibrations taken over from ${directory}: 2.`);
    expect(store.calibrationInForce("leg-press")).toEqual(inventedRecord(2));
    store.close();
    tables = await openTablesWithCalibrations(path);
    store = tables.methods;
    expect(tables.opened_with).toBeNull();
    expect(store.calibrations("leg-press")).toHaveLength(2);
  });

  test("that lie where a store is gone tell of it: a new one is begun, and said to be one", async () => {
    store.saveCalibration(inventedRecord(1));
    store.close();
    rmSync(path);
    tables = await openTablesWithCalibrations(path);
    store = tables.methods;
    expect(tables.opened_with).toMatch(
      /^There was no store at .*: if the former was moved, stop the recorder and put it back\./,
    );
    expect(tables.opened_with).toContain("Calibrations taken over");
    expect(store.calibrationInForce("leg-press")).toEqual(inventedRecord(1));
  });
});

describe("going back to a record", () => {
  beforeEach(() => {
    for (const number of [1, 2]) store.saveCalibration(inventedRecord(number));
  });

  test("puts it in force, says who did, and keeps what was before", () => {
    expect(store.useCalibration(use(1, 10, "tech-2"))).toEqual(inventedRecord(1));
    reopen();
    expect(store.calibrationInForce("leg-press")).toEqual(inventedRecord(1));
    expect(store.calibrations("leg-press")).toEqual([inventedRecord(2), inventedRecord(1)]);
    const { station: _station, ...again } = use(1, 10, "tech-2");
    expect(store.putInForce("leg-press")).toEqual([
      again,
      ...[2, 1].map((number) => ({
        calibration_id: inventedRecord(number).calibration_id,
        at: inventedRecord(number).at,
        performed_by: "tech-1",
      })),
    ]);
  });

  test("writes nothing where it is in force already", () => {
    const zero = { calibration_id: inventedRecord(2).calibration_id, shift_counts: 5, asked_shift_counts: 5 };
    store.saveZero("leg-press", { ...zero, at: instantAt(5), cause: "asked", performed_by: null });
    expect(store.useCalibration(use(2, 10, "tech-2"))).toEqual(inventedRecord(2));
    expect(store.putInForce("leg-press")).toHaveLength(2);
    expect(store.zero("leg-press")).toEqual(zero);
  });

  test("begins at its calibrated zero, after a restart as well: none it had in former days comes back", () => {
    const zero = { calibration_id: inventedRecord(1).calibration_id, shift_counts: 5, asked_shift_counts: 5 };
    const { calibration_id } = zero;
    for (const station of ["leg-press", "row"]) {
      store.saveZero(station, { ...zero, at: instantAt(5), cause: "asked", performed_by: null });
      store.saveZeroMoved(station, { calibration_id, since: instantAt(5), detail: "Zeroed 60 N away." });
    }
    store.useCalibration(use(1, 10));
    reopen();
    expect(store.zero("leg-press")).toBeNull();
    store.saveZero("leg-press", { ...zero, at: instantAt(11), cause: "asked", performed_by: null });
    expect(store.zero("leg-press")).toEqual(zero);
    expect(store.zero("row")).toMatchObject({ ...zero, moved: { since: instantAt(5) } });
    expect(store.zeros("leg-press", 10)).toHaveLength(2);
  });

  test("knows none of another station, and none that is not kept", () => {
    expect(store.useCalibration({ ...use(1, 10), station: "row" })).toBeNull();
    expect(store.useCalibration(use(3, 10))).toBeNull();
    expect(store.putInForce("row")).toEqual([]);
    expect(store.calibrationInForce("leg-press")).toEqual(inventedRecord(2));
  });

  test("does nothing where its file cannot be written", () => {
    blockFiles();
    expect(() => store.useCalibration(use(1, 10))).toThrow(expect.objectContaining({ code: "other" }));
    expect(store.calibrationInForce("leg-press")).toEqual(inventedRecord(2));
    expect(store.putInForce("leg-press")).toHaveLength(2);
  });

  test("outlives the store's file", async () => {
    store.useCalibration(use(1, 10, "tech-2"));
    await reopenDamaged();
    expect(store.calibrationInForce("leg-press")).toEqual(inventedRecord(1));
    expect(store.putInForce("leg-press")).toMatchObject([{ at: instantAt(10), performed_by: "tech-2" }]);
    expect(store.calibrations("leg-press")).toHaveLength(2);
  });

  test("is not found in files of before it was written there: then the newest record is in force", async () => {
    rmSync(join(`${path}-calibrations`, "leg-press-in-force.json"));
    await reopenDamaged();
    expect(store.calibrationInForce("leg-press")).toEqual(inventedRecord(2));
  });
});

describe("an imported record", () => {
  test("is kept, not in force, and lies beside the store", async () => {
    store.saveCalibration(inventedRecord(1));
    expect(store.importCalibration(inventedRecord(5))).toBe("kept");
    reopen();
    expect(store.calibrations("leg-press")).toEqual([inventedRecord(5), inventedRecord(1)]);
    expect(store.calibrationInForce("leg-press")).toEqual(inventedRecord(1));
    await reopenDamaged();
    // Its date is the newest, and still it is not what was in force.
    expect(store.calibrations("leg-press")).toHaveLength(2);
    expect(store.calibrationInForce("leg-press")).toEqual(inventedRecord(1));
  });

  test("does not come into force with a new file either, where nothing was, or nothing said so", async () => {
    store.importCalibration(inventedRecord(5));
    store.saveCalibration(inventedRecord(6, { station: "row" }));
    // As a store of before leaves it.
    rmSync(join(`${path}-calibrations`, "row-in-force.json"));
    store.importCalibration(inventedRecord(9, { station: "row" }));
    await reopenDamaged();
    expect(store.calibrations("leg-press")).toEqual([inventedRecord(5)]);
    expect(store.calibrationInForce("leg-press")).toBeNull();
    expect(store.calibrationInForce("row")).toEqual(inventedRecord(6, { station: "row" }));
  });

  test("is known the second time, whatever the order of its fields; another one of its id is not taken", () => {
    store.importCalibration(inventedRecord(5));
    const five = inventedRecord(5);
    const turned = Object.fromEntries(Object.entries(five).reverse()) as typeof five;
    expect(store.importCalibration(turned)).toBe("known");
    expect(store.importCalibration(inventedRecord(5, { counts_per_N: -41.126 }))).toBe("differs");
    expect(store.calibrations("leg-press")).toEqual([five]);
  });

  test("that cannot be written beside the store is not kept", () => {
    blockFiles();
    expect(() => store.importCalibration(inventedRecord(5))).toThrow(expect.objectContaining({ code: "other" }));
    expect(store.calibrations("leg-press")).toEqual([]);
  });
});

describe("checks", () => {
  test("are kept for ever, newest first, and the same again changes nothing", () => {
    for (const number of [1, 2, 2]) store.saveCheck(inventedCheck(number));
    store.saveCheck(inventedCheck(3, { station: "row" }));
    reopen();
    expect(store.checks("leg-press")).toEqual([inventedCheck(2), inventedCheck(1)]);
    expect(store.checks("nowhere")).toEqual([]);
  });

  test("lie beside the store, disturb no record there, and come back with them", async () => {
    store.saveCalibration(inventedRecord(1));
    store.saveCheck(inventedCheck(2));
    await reopenDamaged();
    expect(tables.opened_with).toContain("Calibrations taken over from");
    expect(store.calibrations("leg-press")).toEqual([inventedRecord(1)]);
    expect(store.checks("leg-press")).toEqual([inventedCheck(2)]);
  });

  test("that cannot be written beside the store are not kept", () => {
    blockFiles();
    expect(() => store.saveCheck(inventedCheck(1))).toThrow(expect.objectContaining({ code: "other" }));
    expect(store.checks("leg-press")).toEqual([]);
  });
});

describe("when a calibration is due", () => {
  const [june, july, august] = ["06", "07", "08"].map((month) => `2027-${month}-01T00:00:00.000Z`);

  test("is the latest of its own day and those of its checks, and of no other record's", () => {
    expect(store.calibrationDue("leg-press")).toBeNull();
    store.saveCalibration(inventedRecord(1));
    expect(store.calibrationDue("leg-press")).toBeNull();
    store.saveCheck(inventedCheck(1, { due: null }));
    expect(store.calibrationDue("leg-press")).toBeNull();
    store.saveCheck(inventedCheck(2, { due: july! }));
    store.saveCheck(inventedCheck(3, { due: june! }));
    expect(store.calibrationDue("leg-press")).toBe(july);
    store.saveCalibration(inventedRecord(2, { due: june! }));
    expect(store.calibrationDue("leg-press")).toBe(june);
    store.saveCheck(inventedCheck(4, { due: august! }, inventedRecord(2)));
    expect(store.calibrationDue("leg-press")).toBe(august);
    store.useCalibration(use(1, 10));
    expect(store.calibrationDue("leg-press")).toBe(july);
  });
});

describe("the zero", () => {
  const zero = { calibration_id: uuidOf(1), shift_counts: -12.375, asked_shift_counts: 3 };
  const saved = (minutes: number, over: Partial<SavedZero> = {}): SavedZero => ({
    ...zero,
    at: instantAt(minutes),
    cause: "tracked",
    performed_by: null,
    ...over,
  });

  test("of each station stays over a restart", () => {
    expect(store.zero("leg-press")).toBeNull();
    store.saveZero("leg-press", saved(1, { shift_counts: 1 }));
    store.saveZero("leg-press", saved(2));
    store.saveZero("row", saved(3, { asked_shift_counts: 0 }));
    reopen();
    expect(store.zero("leg-press")).toEqual(zero);
    expect(store.zero("row")?.asked_shift_counts).toBe(0);
  });

  test("that is to be inspected is found so until it was, and only with the record it was found by", () => {
    const moved = { since: instantAt(3), detail: "Zeroed 60 N away from the former zero." };
    const { calibration_id } = zero;
    store.saveZero("leg-press", saved(1));
    store.saveZeroMoved("leg-press", { calibration_id, since: instantAt(2), detail: "Zeroed 40 N away." });
    store.saveZeroMoved("leg-press", { calibration_id, ...moved });
    reopen();
    expect(store.zero("leg-press")).toEqual({ ...zero, moved });
    store.saveZero("leg-press", saved(2, { calibration_id: uuidOf(77) }));
    expect(store.zero("leg-press")).not.toHaveProperty("moved");
    store.saveZero("leg-press", saved(3));
    expect(store.zero("leg-press")).toHaveProperty("moved", moved);
    store.saveZeroMoved("leg-press", null);
    expect(store.zero("leg-press")).toEqual(zero);
  });

  test("has a history: the newest so many, oldest first, of this station", () => {
    const moved = [1, 2, 3].map((minutes) => saved(minutes, { cause: "asked", performed_by: "tech-1" }));
    for (const one of moved) store.saveZero("leg-press", one);
    store.saveZero("row", saved(4));
    reopen();
    expect(store.zeros("leg-press", 10)).toEqual(moved);
    expect(store.zeros("leg-press", 2)).toEqual(moved.slice(1));
    expect(store.zeros("nowhere", 2)).toEqual([]);
  });

  test("keeps so many rows of a station, and the oldest tracked ones go first", () => {
    const asked = { cause: "asked" } as const;
    const rows = [saved(1, asked), saved(2), saved(3), saved(4, asked), saved(5), saved(6)];
    for (const row of rows) saveZero(tables.database, "leg-press", row, 4);
    store.saveZero("row", saved(7));
    expect(store.zeros("leg-press", 10)).toEqual([rows[0], rows[3], rows[4], rows[5]]);
    for (const minutes of [8, 9, 10]) saveZero(tables.database, "leg-press", saved(minutes, asked), 4);
    // Nothing tracked is left to go.
    expect(store.zeros("leg-press", 10).map(({ at }) => at)).toEqual([4, 8, 9, 10].map(instantAt));
    expect(store.zeros("row", 10)).toHaveLength(1);
  });
});

test("a store of before there were checks keeps its records, what is in force, and its zero", () => {
  const older = storePath();
  const before = openTables(older, STEPS.slice(0, 2));
  const record = inventedRecord(1);
  before.database.run(
    "INSERT INTO calibration (calibration_id, station, record) VALUES (?, 'leg-press', ?)",
    record.calibration_id,
    JSON.stringify(record),
  );
  before.database.run(
    "INSERT INTO calibration_in_force (station, calibration_id, at) VALUES ('leg-press', ?, ?)",
    record.calibration_id,
    record.at,
  );
  before.database.run("INSERT INTO zero_state VALUES ('leg-press', ?, 1.5, 1)", record.calibration_id);
  before.methods.close();
  const { methods } = openTables(older);
  expect(methods.calibrationInForce("leg-press")).toEqual(record);
  expect(methods.putInForce("leg-press")).toMatchObject([{ performed_by: null, at: record.at }]);
  expect(methods.zero("leg-press")).toMatchObject({ shift_counts: 1.5, asked_shift_counts: 1 });
  expect(methods.zeros("leg-press", 10)).toEqual([]);
  expect(methods.checks("leg-press")).toEqual([]);
  methods.close();
});
