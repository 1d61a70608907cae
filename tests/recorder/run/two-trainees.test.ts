/** Two people taking turns at one station, in the time of its board, with a real record: whose is whose, and set right. */
import { beforeEach, describe, expect, it } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { ArgsOf } from "../../../protocol/requests/verbs.ts";
import type { Records } from "../../../recorder/control/ports.ts";
import { dayStartsAt } from "../../../recorder/local-day.ts";
import { recordsOf } from "../../../recorder/run/records.ts";
import { takingTurns } from "../../../recorder/run/turns.ts";
import { historyQuery } from "../../../recorder/station/beginning.ts";
import { setMessageOf } from "../../../recorder/station/set-message.ts";
import { openTables, type StoreMethods } from "../../../recorder/store/tables.ts";
import { type Bench, holdCurve, readyBench } from "../station/bench.ts";
import { uuidOf } from "../store/invented.ts";
import { storePath } from "../store/store-path.ts";

const KEPT = { recorder: "hall-box", boot: uuidOf(0xb007), store: uuidOf(0) };
const TOPIC = "tidemark/north-hall/station/leg-press/set";
const WREN = "wren-21";
const HERON = "heron-07";

let bench: Bench;
let store: StoreMethods;
let records: Records;
const announced: SetMessage[] = [];

beforeEach(() => {
  store = openTables(storePath()).methods;
  announced.length = 0;
  bench = readyBench({ station: { style: "hold", fatigue_threshold_percent: 20 } });
  bench.links = { "band-0142": WREN, "band-0143": HERON };
  bench.historyOf = (args) =>
    store.history(historyQuery(bench.station, { args, setup: null }, dayStartsAt(bench.now.wall_ms, "UTC"), bench.now));
  const loop = {
    id: "leg-press",
    get station() {
      return bench.station;
    },
  };
  records = recordsOf({
    loops: new Map([["leg-press", loop]]),
    store: {
      set: async (set_id) => store.set(set_id),
      before: async (query) => store.before(query),
      revise: async (revising) => store.revise(revising),
      saveTag: async (tag) => store.saveTag(tag),
      importCalibration: async (record) => store.importCalibration(record),
      savePlan: async (plan) => store.savePlan(plan),
      plan: async (station, trainee) => store.plan(station, trainee),
      plans: async (query) => store.plans(query),
      series: async (query) => store.series(query),
      seriesDays: async (query) => store.seriesDays(query),
    },
    publisher: { topic: () => TOPIC, watch: () => () => {} },
    inTurn: takingTurns(),
    onRevised(set) {
      announced.push(set);
      bench.give({ kind: "revised", set });
    },
    time_zone: "UTC",
    now: () => bench.now,
    log: { error: () => {} },
  });
  return () => store.close();
});

/** Whoever is armed holds at `best_N` for two seconds and lets go of a third of it; kept, and a minute passes. */
function held(best_N: number): SetMessage {
  bench
    .pull(0.5, 0)
    .pull(2, holdCurve(best_N, 10, 0))
    .pull(2.5, best_N * 0.66)
    .pull(60, 0);
  const { path, result, log } = bench.did("keep").at(-1)!;
  return store.keep({ message: setMessageOf(path, result, KEPT), log, setup: "", topic: TOPIC });
}

const begun = (trainee: string): Bench => bench.begin({ trainee });
function trained(trainee: string, best_N: number): SetMessage {
  begun(trainee);
  return held(best_N);
}
const by_key = (): Bench => bench.press(1);
const by_tag = (tag: string): Bench => bench.present(tag);

const seconds = (from: SetMessage, to: SetMessage): number => (Date.parse(to.started_at) - Date.parse(from.at)) / 1000;

async function amend(set: SetMessage, changes: Omit<ArgsOf<"amend">, "set_id">): Promise<SetMessage> {
  const outcome = await records.amend({ set_id: set.set_id, ...changes });
  if (!outcome.ok) throw new Error(outcome.error.message);
  return (outcome.result as { set: SetMessage }).set;
}

describe("two trainees at one station", () => {
  it("each has their own order, rest, best of the day and comparison, however they are named", () => {
    const comparable = (): unknown => (bench.last("state")?.["comparable_set"] as SetMessage | null)?.set_id ?? null;
    const sets: SetMessage[] = [];
    const shown: unknown[] = [];
    const takeTurn = (arm: () => Bench, best_N: number): void => {
      arm();
      shown.push(comparable());
      sets.push(held(best_N));
    };
    takeTurn(() => begun(WREN), 1000);
    takeTurn(() => begun(HERON), 600);
    takeTurn(() => by_tag("band-0142"), 900);
    takeTurn(() => by_tag("band-0143"), 700);
    // Key 1 is for whoever was named last: by the tag, then by a begin that was taken back.
    takeTurn(by_key, 500);
    begun(WREN);
    bench.ask("end");
    takeTurn(by_key, 1100);

    const [wren1, heron1, wren2, heron2, heron3, wren3] = sets as [
      SetMessage,
      SetMessage,
      SetMessage,
      SetMessage,
      SetMessage,
      SetMessage,
    ];
    expect(sets.map(({ trainee, set_of_day }) => [trainee, set_of_day])).toEqual([
      [WREN, 1],
      [HERON, 1],
      [WREN, 2],
      [HERON, 2],
      [HERON, 3],
      [WREN, 3],
    ]);
    const best = (set: SetMessage): number => set.best_force_N ?? Number.NaN;
    expect(sets.map((set) => set.today_best_force_N)).toEqual([
      best(wren1),
      best(heron1),
      best(wren1),
      best(heron2),
      best(heron2),
      best(wren3),
    ]);
    expect(sets.map((set) => set.rested_s)).toEqual([
      null,
      null,
      seconds(wren1, wren2),
      seconds(heron1, heron2),
      seconds(heron2, heron3),
      seconds(wren2, wren3),
    ]);
    expect(shown).toEqual([null, null, wren1.set_id, heron1.set_id, heron2.set_id, wren2.set_id]);
  });
});

describe("a set put down to the wrong one", () => {
  it("gets the order, rest and best it would have had, and no other set changes", async () => {
    const wren1 = trained(WREN, 1000);
    const heron1 = trained(HERON, 600);
    const wrong = trained(WREN, 500);
    const wren3 = trained(WREN, 900);
    expect(wrong).toMatchObject({ set_of_day: 2, today_best_force_N: wren1.best_force_N });

    const right = await amend(wrong, { trainee: HERON, performed_by: "P-01" });
    expect(right).toMatchObject({
      revision: 2,
      trainee: HERON,
      set_of_day: 2,
      rested_s: seconds(heron1, wrong),
      today_best_force_N: heron1.best_force_N,
    });
    const { today_best_force_N: today_N, final_force_N: final_N } = right;
    expect(right.force_loss_today).toBeCloseTo((today_N! - final_N!) / today_N!, 4);
    expect(right.force_loss).toBe(wrong.force_loss);
    expect(announced).toEqual([right]);
    expect(store.set(wren3.set_id)?.message).toEqual(wren3);
    // What comes next goes by the record as it is now.
    const heron3 = trained(HERON, 400);
    expect(heron3).toMatchObject({ set_of_day: 3, rested_s: seconds(right, heron3) });
    expect(await amend(right, { trainee: WREN })).toMatchObject({ ...wrong, revision: 3, set_seq: 7 });
  });

  it("of nobody has no order and no rest, and its own best is the day's", async () => {
    trained(WREN, 1000);
    const wrong = trained(WREN, 700);
    const nobody = await amend(wrong, { trainee: null });
    expect(nobody).toMatchObject({
      trainee: null,
      set_of_day: null,
      rested_s: null,
      today_best_force_N: wrong.best_force_N,
      force_loss_today: wrong.force_loss,
    });
  });

  it("void, is nobody's best of the day, and leaves the comparison of a set that is armed", async () => {
    const first = trained(WREN, 600);
    const second = trained(WREN, 1000);
    begun(WREN);
    expect(bench.last("state")?.["comparable_set"]).toMatchObject({ set_id: second.set_id });
    const voided = await amend(second, { void: true });
    expect(voided).toMatchObject({ void: true, set_of_day: 2, today_best_force_N: first.best_force_N });
    bench.pull(1.2, 0);
    expect(bench.last("state")?.["comparable_set"]).toBeNull();
    const next = held(500);
    expect(next.today_best_force_N).toBe(second.best_force_N);
    begun(WREN);
    // The next begin goes by the record: the void set is in no comparison.
    expect(bench.last("state")?.["comparable_set"]).toMatchObject({ set_id: next.set_id });
    expect(held(400)).toMatchObject({ set_of_day: 3, today_best_force_N: first.best_force_N });
    expect(await amend(voided, { void: false })).toMatchObject({ ...without(second), revision: 3 });
  });

  it("pain, exertion and note change nothing that was derived, and can be taken back", async () => {
    trained(WREN, 600);
    const set = trained(WREN, 1000);
    const told = await amend(set, { pain: 3, exertion: 7.5, note: "seat 4" });
    expect(without(told)).toEqual({ ...without(set), pain: 3, exertion: 7.5, note: "seat 4" });
    const cleared = await amend(set, { pain: null, exertion: null, note: null });
    expect(without(cleared)).toEqual(without(set));
    expect(cleared.revision).toBe(3);
  });

  it("amended to what it is makes no revision", async () => {
    const set = trained(WREN, 1000);
    const outcome = await records.amend({ set_id: set.set_id, trainee: WREN, void: false, pain: null });
    expect(outcome).toEqual({ ok: true, result: { set, amended: false } });
    expect(announced).toEqual([]);
    expect(store.sets({}).last_set_seq).toBe(set.set_seq);
  });

  it("amendments asked at once come one after the other, each from what the one before it left", async () => {
    trained(HERON, 600);
    const set = trained(WREN, 500);
    const [, last] = await Promise.all([amend(set, { trainee: HERON }), amend(set, { side: "left" })]);
    // The best of the day is of the same side only: none before it.
    expect(last).toMatchObject({ trainee: HERON, side: "left", set_of_day: 2, revision: 3 });
    expect(last.today_best_force_N).toBe(set.best_force_N);
  });

  it("is said to be under way, or not to be kept, in one sentence", async () => {
    begun(WREN)
      .pull(0.5, 0)
      .pull(4, holdCurve(800, 10, 0));
    const running = bench.station.set?.path.facts.set_id ?? "";
    expect(await records.amend({ set_id: running, void: true })).toMatchObject({
      error: { code: "busy", message: `The set ${running} is not over yet at leg-press.` },
    });
    bench.press(1);
    expect(await records.amend({ set_id: running, void: true })).toMatchObject({
      error: { code: "busy", message: `The set ${running} is over at leg-press and not kept yet.` },
    });
    expect(await records.amend({ set_id: uuidOf(99), void: true })).toMatchObject({
      error: { code: "out-of-range", message: `No set ${uuidOf(99)} is kept here.` },
    });
  });

  it("asked about one station only, another's set is as good as none, running or kept", async () => {
    const kept = trained(HERON, 600);
    begun(WREN).pull(0.5, 0).pull(4, 500);
    const running = bench.station.set?.path.facts.set_id ?? "";
    for (const set_id of [kept.set_id, running]) {
      expect(await records.amend({ set_id, void: true }, "row")).toMatchObject({
        error: { code: "out-of-range", message: `No set ${set_id} is kept here.` },
      });
    }
    expect(announced).toEqual([]);
    expect(await records.amend({ set_id: running, void: true }, "leg-press")).toMatchObject({
      error: { code: "busy" },
    });
    expect(await records.amend({ set_id: kept.set_id, void: true }, "leg-press")).toMatchObject({ ok: true });
  });
});

const without = ({ set_seq, revision, ...rest }: SetMessage): object => rest;
