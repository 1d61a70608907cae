/** Plans as they are asked for and saved: laid over what is there, one after the other, in a real record. */
import { beforeEach, describe, expect, it } from "vitest";
import { planResultSchema, planSaveResultSchema } from "../../../protocol/requests/plan.ts";
import type { ArgsOf } from "../../../protocol/requests/verbs.ts";
import { type PlanningPorts, plans, savePlan } from "../../../recorder/run/planning.ts";
import { takingTurns } from "../../../recorder/run/turns.ts";
import { newStation } from "../../../recorder/station/state.ts";
import { openTables, type Tables } from "../../../recorder/store/tables.ts";
import { stationConfiguration } from "../station/bench.ts";
import { storePath } from "../store/store-path.ts";

const STATION = "leg-press";
const WREN = "wren-21";
let tables: Tables;
let ports: PlanningPorts;
let wall_ms = Date.parse("2026-11-24T10:00:00.000Z");

/** A turn of the loop lies between a question and its answer, as with the storage thread. */
const later = async <T>(work: () => T): Promise<T> => {
  await new Promise(setImmediate);
  return work();
};

beforeEach(() => {
  tables = openTables(storePath());
  ports = portsFor({});
  return () => tables.methods.close();
});

function portsFor(configuration: Parameters<typeof stationConfiguration>[0]): PlanningPorts {
  const { methods } = tables;
  return {
    loops: new Map([[STATION, { station: newStation(stationConfiguration(configuration), false) }]]),
    store: {
      plan: (station, trainee) => later(() => methods.plan(station, trainee)),
      plans: (query) => later(() => methods.plans(query)),
      savePlan: (plan) => later(() => methods.savePlan(plan)),
    },
    inTurn: takingTurns(),
    now: () => ({ ms: 0, wall_ms: wall_ms++, clock_synced: true }),
  };
}

type Changes = Omit<ArgsOf<"plan-save">, "station" | "trainee">;
const save = (changes: Changes, trainee = WREN) => savePlan({ station: STATION, trainee, ...changes }, ports);
async function saved(changes: Changes) {
  const outcome = await save(changes);
  if (!outcome.ok) throw new Error(outcome.error.message);
  return planSaveResultSchema.parse(outcome.result);
}
const shown = async (trainee?: string) => {
  const outcome = await plans({ station: STATION, trainee }, ports);
  if (!outcome.ok) throw new Error(outcome.error.message);
  return planResultSchema.parse(outcome.result);
};
const rows = (): number => tables.database.get<{ rows: number }>("SELECT count(*) AS rows FROM plan")?.rows ?? -1;

describe("a plan that is saved", () => {
  it("is shown to whoever asks for it, with who decided it and when", async () => {
    const { plan, changed } = await saved({ sides: ["left", "right"], setup: { seat: "4" }, performed_by: "P-01" });
    expect(changed).toBe(true);
    expect(plan).toMatchObject({ trainee: WREN, station: STATION, performed_by: "P-01" });
    expect(Date.parse(plan?.saved_at ?? "")).toBe(wall_ms - 1);
    expect(await shown(WREN)).toEqual({ station: STATION, plans: [plan], more: false });
    expect(await shown()).toEqual({ station: STATION, plans: [plan], more: false });
    expect(await shown("heron-07")).toEqual({ station: STATION, plans: [], more: false });
  });

  it("so already, is not written again, whoever says so", async () => {
    const first = await saved({ setup: { seat: "4", pin: "7" }, warm_up: { sets: 1, fatigue_threshold: 0.2 } });
    for (const same of [{ setup: { pin: "7" } }, { warm_up: { fatigue_threshold: 0.2, sets: 1 } }, { note: null }]) {
      expect(await saved({ ...same, performed_by: "P-02" })).toEqual({ plan: first.plan, changed: false });
    }
    expect(rows()).toBe(1);
  });

  it("twice at once, loses neither", async () => {
    await saved({ note: "slowly" });
    await Promise.all([saved({ setup: { seat: "4" } }), saved({ setup: { pin: "7" } }), saved({ rest_s: 120 })]);
    expect((await shown(WREN)).plans).toMatchObject([{ note: "slowly", setup: { seat: "4", pin: "7" }, rest_s: 120 }]);
  });

  it("goes when it says nothing any more, and when it is taken away", async () => {
    await saved({ note: "slowly" });
    expect(await saved({ note: null })).toEqual({ plan: null, changed: true });
    expect(await saved({ remove: true })).toEqual({ plan: null, changed: false });
    await saved({ rest_s: 60 });
    expect(await saved({ remove: true })).toEqual({ plan: null, changed: true });
    expect((await shown(WREN)).plans).toEqual([]);
    // Each as it was saved; what was asked for in vain is none of them.
    expect(rows()).toBe(4);
  });
});

describe("what a begin would be refused each time is refused now, and the plan stays as it was", () => {
  it.each<[string, Parameters<typeof stationConfiguration>[0], Changes, object]>([
    [
      "a loss on a stack",
      { resistance: "stack" },
      { fatigue_threshold: 0.4 },
      { code: "not-suited", hint: expect.stringContaining("blocked lever") },
    ],
    [
      "eccentric efforts on a line that names no muscle action",
      { dialect: "bare", board: undefined },
      { style: "eccentric-only" },
      { code: "not-suited" },
    ],
    ["repetitions at 10 readings a second", { rate: 10 }, { style: "continuous" }, { code: "rate-too-low" }],
    [
      "a ceiling under the onset, on one side",
      {},
      { by_side: { left: { options: { ceiling_force_N: 40 } } } },
      { code: "bad-request", message: "A ceiling of 40 N lies under the onset of 50 N." },
    ],
  ])("%s", async (_what, configuration, changes, error) => {
    ports = portsFor({ style: "hold", ...configuration });
    await saved({ note: "slowly" });
    expect(await save(changes)).toMatchObject({ ok: false, error });
    expect((await shown(WREN)).plans).toMatchObject([{ note: "slowly", fatigue_threshold: null, by_side: {} }]);
  });

  it("more notes than a plan holds, said in two requests", async () => {
    const notes = (from: number): Record<string, string> =>
      Object.fromEntries(Array.from({ length: 8 }, (_, at) => [`note ${from + at}`, "4"]));
    await saved({ setup: notes(0) });
    expect(await save({ setup: notes(8) })).toMatchObject({
      error: { code: "bad-request", message: "The plan would not hold: setup holds at most 12 notes." },
    });
    expect(Object.keys((await shown(WREN)).plans[0]?.setup ?? {})).toHaveLength(8);
  });

  it("and what may be so on another day is not: a board that names the muscle action once it was moved", async () => {
    expect((await saved({ style: "eccentric-only", options: { ceiling_force_N: 51 } })).changed).toBe(true);
  });
});
