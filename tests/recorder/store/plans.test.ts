/** Plans in the store, and what a begin asks of today. */
import { beforeEach, describe, expect, it } from "vitest";
import type { Plan } from "../../../protocol/requests/plan.ts";
import { openTables, type Tables } from "../../../recorder/store/tables.ts";
import { instantAt, inventedSet, toKeep } from "./invented.ts";
import { storePath } from "./store-path.ts";

let path: string;
let tables: Tables;
beforeEach(() => {
  path = storePath();
  tables = openTables(path);
  return () => tables.methods.close();
});

const planOf = (trainee: string, says: Partial<Plan> = {}): Plan => ({
  station: "leg-press",
  trainee,
  sides: [],
  exercise: null,
  style: null,
  intent: null,
  fatigue_threshold: null,
  setup: { seat: "4" },
  options: {},
  warm_up: null,
  rest_s: null,
  by_side: {},
  note: null,
  saved_at: instantAt(1),
  performed_by: "P-01",
  ...says,
});
const save = (plan: Plan): void => {
  const { station, trainee, saved_at, performed_by } = plan;
  tables.methods.savePlan({ station, trainee, saved_at, performed_by, plan });
};
const takeAway = (trainee: string): void =>
  tables.methods.savePlan({ station: "leg-press", trainee, saved_at: instantAt(9), performed_by: null, plan: null });
const listed = (after_trainee?: string): string[] =>
  tables.methods.plans({ station: "leg-press", after_trainee }).plans.map(({ trainee }) => trainee);

describe("a plan", () => {
  it("is the newest saved of its trainee and station, also after a restart", () => {
    save(planOf("t-01", { rest_s: 60 }));
    // A clock that was set back changes nothing: the order of saving counts.
    const newest = planOf("t-01", { rest_s: 90, saved_at: instantAt(-500) });
    save(newest);
    save(planOf("t-01", { station: "row", rest_s: 10 }));
    expect(tables.methods.plan("leg-press", "t-01")).toEqual(newest);
    tables.methods.close();
    tables = openTables(path);
    expect(tables.methods.plan("leg-press", "t-01")).toEqual(newest);
    expect(tables.methods.plan("leg-press", "t-02")).toBeNull();
    expect(tables.methods.plans({ station: "leg-press" })).toEqual({ plans: [newest], more: false });
  });

  it("that was taken away is none, until there is one again", () => {
    save(planOf("t-01"));
    save(planOf("t-02"));
    takeAway("t-01");
    expect(tables.methods.plan("leg-press", "t-01")).toBeNull();
    expect(listed()).toEqual(["t-02"]);
    save(planOf("t-01"));
    expect(listed()).toEqual(["t-01", "t-02"]);
  });
});

describe("a page of plans", () => {
  const codes = Array.from({ length: 250 }, (_, number) => `t-${String(number).padStart(3, "0")}`);

  it("ends at a hundred, and goes on after its last one until there are no more", () => {
    for (const code of [...codes].reverse()) save(planOf(code));
    // One in the middle is gone: it takes no place in a page.
    takeAway("t-050");
    const seen: string[] = [];
    const sizes: number[] = [];
    for (let more = true; more; ) {
      const page = tables.methods.plans({ station: "leg-press", after_trainee: seen.at(-1) });
      sizes.push(page.plans.length);
      seen.push(...page.plans.map(({ trainee }) => trainee));
      ({ more } = page);
    }
    expect(seen).toEqual(codes.filter((code) => code !== "t-050"));
    expect(sizes).toEqual([100, 100, 49]);
  });

  it("ends at 512 KiB of text, and holds one plan in any case", () => {
    const long = (kib: number): string => "x".repeat(kib * 1024);
    save(planOf("t-01", { note: long(600) }));
    for (const code of ["t-02", "t-03", "t-04"]) save(planOf(code, { note: long(200) }));
    expect(tables.methods.plans({ station: "leg-press" })).toMatchObject({ plans: [{ trainee: "t-01" }], more: true });
    const next = tables.methods.plans({ station: "leg-press", after_trainee: "t-01" });
    expect(next).toMatchObject({ plans: [{ trainee: "t-02" }, { trainee: "t-03" }], more: true });
    expect(tables.methods.plans({ station: "leg-press", after_trainee: "t-03" })).toMatchObject({ more: false });
  });

  it("leaves out one whose text is damaged, and has the others", () => {
    for (const code of ["t-01", "t-02", "t-03"]) save(planOf(code));
    tables.database.run("UPDATE plan SET plan = '{' WHERE trainee = 't-02'");
    expect(listed()).toEqual(["t-01", "t-03"]);
    expect(() => tables.methods.plan("leg-press", "t-02")).toThrow("the store cannot carry out");
  });
});

describe("today", () => {
  const asked = { station: "leg-press", trainee: "t-01", day_starts_at: instantAt(0), now: instantAt(100) };

  it("has this trainee's sets here that are not void, in their order, warm-ups and others", () => {
    const keep = (number: number, over: object): void => void tables.methods.keep(toKeep(inventedSet(number, over)));
    keep(-1, { side: "right" });
    keep(1, { side: "left", warm_up: true });
    keep(2, { side: "right", void: true });
    keep(3, { side: "right", trainee: "t-02" });
    keep(4, { side: "right", station: "row" });
    keep(5, { side: "both", cut_short: true });
    keep(6, { side: null });
    keep(101, { side: "right" });
    expect(tables.methods.today(asked)).toEqual([{ side: "left" }, { side: "both" }, { side: null }]);
    expect(tables.methods.today({ ...asked, trainee: "t-09" })).toEqual([]);
  });

  it("reads the day along an index, and no row of another day or trainee", () => {
    tables.methods.today(asked);
    const text = tables.database.texts.find((one) => one.includes("SELECT side FROM kept_set"));
    const plan = tables.database.all<{ detail: string }>(`EXPLAIN QUERY PLAN ${text}`, 0, 1, "leg-press", "t-01");
    expect(plan[0]?.detail).toContain("INDEX kept_set_by_start (started_at_ms>? AND started_at_ms<?)");
  });
});
