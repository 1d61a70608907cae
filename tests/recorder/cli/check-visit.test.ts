import { describe, expect, test } from "vitest";
import type { Check } from "../../../calibration/record.ts";
import type { Verb } from "../../../protocol/requests/verbs.ts";
import { type PlannedLoad, planOf, quickPlan } from "../../../recorder/cli/check-dialog/plan.ts";
import { rig, type Technician } from "../../../recorder/cli/check-dialog/technician.ts";
import { type Visited, visit } from "../../../recorder/cli/check-dialog/visit.ts";
import type { Reply } from "../../../recorder/cli/client.ts";
import { check } from "../../calibration/check-report/made-checks.ts";

const load = (mass_kg: number): PlannedLoad => ({
  said: `${mass_kg} kg`,
  request: { mass_kg },
  about_N: mass_kg * 9.81,
});
const said = (plan: ReturnType<typeof planOf>): string[] =>
  plan.map((step) => `${step.series} ${step.loading === "increasing" ? "up" : "down"} ${step.said}`);

describe("the plan of a check", () => {
  test("nothing on, up through the loads however they were named, down again, nothing on", () => {
    expect(said(planOf({ loads: [load(20), load(5), load(10)], series: 1, up_only: false }))).toEqual([
      "1 up nothing on",
      "1 up 5 kg",
      "1 up 10 kg",
      "1 up 20 kg",
      "1 down 10 kg",
      "1 down 5 kg",
      "1 down nothing on",
    ]);
  });

  test("series after series, and with nothing in between on the way down where nobody wants it", () => {
    expect(said(planOf({ loads: [load(10), load(20)], series: 2, up_only: true }))).toEqual([
      "1 up nothing on",
      "1 up 10 kg",
      "1 up 20 kg",
      "1 down nothing on",
      "2 up nothing on",
      "2 up 10 kg",
      "2 up 20 kg",
      "2 down nothing on",
    ]);
  });

  test("the quick one is two captures", () => {
    expect(said(quickPlan(load(20)))).toEqual(["1 up nothing on", "1 up 20 kg"]);
  });

  test("settles the machine first, and says how a load is reached", () => {
    const [first, up, , down] = planOf({ loads: [load(10), load(20)], series: 1, up_only: false });
    expect(first?.instruction).toMatch(/^Hang 20 kg and take it off again, three times/);
    expect(up?.instruction).toMatch(/^Hang 10 kg in all\. Let it down gently, never past/);
    expect(down?.instruction).toMatch(/^Take off what is more than 10 kg, without putting anything on/);
  });
});

const OK: Reply = { ok: true, result: {} };
const refused = (message: string): Reply => ({
  ok: false,
  failure: { exit: 1, message, refusal: { code: "not-still", message } },
});

/** A recorder that reads every load right, or `factor` times itself, unless told what to answer. */
function recorder(answers: Partial<Record<Verb, (args: object) => Reply>> = {}, factor = 1) {
  const asked: Verb[] = [];
  const checks: Check[] = [];
  const ask = async (verb: Verb, args: object): Promise<Reply> => {
    asked.push(verb);
    const told = answers[verb]?.(args);
    if (told !== undefined) return told;
    if (verb === "calibration-check") {
      const { mass_kg, force_N, loading, series } = args as {
        mass_kg?: number;
        force_N?: number;
        loading: Check["loading"];
        series: number;
      };
      const true_N = force_N ?? (mass_kg ?? 0) * 10;
      const taken = check(true_N, factor * true_N, { loading, series, mass_kg: mass_kg ?? null });
      checks.push(taken);
      return { ok: true, result: { ...taken, warnings: [] } };
    }
    if (verb !== "calibration-accept") return OK;
    const record = {
      check_version: 1,
      check_id: "5f0c5e2e-0000-4000-8000-0000000000c1",
      calibration_id: "5f0c5e2e-0000-4000-8000-0000000000cc",
      station: "row",
      at: "2026-11-25T10:00:00.000Z",
      performed_by: null,
      checks,
      zero_shift_N: 0,
      due: null,
      note: null,
    };
    return { ok: true, result: record };
  };
  return { ask, asked };
}

const PLAN = planOf({ loads: [load(10)], series: 1, up_only: false });
const BEGIN_TO_END = ["calibration-begin", ...PLAN.map(() => "calibration-check")];

function go(
  ask: (verb: Verb, args: object) => Promise<Reply>,
  technician: Partial<Technician> = {},
  interrupted = new AbortController().signal,
  accept: { readonly due?: string; readonly note?: string } = {},
): Promise<Visited> {
  const say = (): string => "";
  const who = { ...rig(() => {}), ...technician };
  return visit({ plan: PLAN, ask, technician: who, interrupted, say, show: () => {}, accept });
}

describe("a visit", () => {
  test("begins, takes every step of the plan and keeps the check", async () => {
    const { ask, asked } = recorder();
    const ended = await go(ask);
    expect(ended.is === "kept" && ended.record.checks.map(({ force_N, loading }) => [force_N, loading])).toEqual([
      [0, "increasing"],
      [100, "increasing"],
      [0, "decreasing"],
    ]);
    expect(asked).toEqual([...BEGIN_TO_END, "calibration-accept"]);
  });

  test("shows what was found before anybody decides, and abandons what is not to be kept", async () => {
    const order: string[] = [];
    const { ask, asked } = recorder();
    const ended = await visit({
      plan: PLAN,
      ask,
      technician: { ...rig(() => {}), keep: async () => order.push("asked") < 0 },
      interrupted: new AbortController().signal,
      say: () => "",
      show: (checks) => order.push(`shown ${checks.length}`),
      accept: {},
    });
    expect(ended).toMatchObject({ is: "not-kept" });
    expect(order).toEqual(["shown 3", "asked"]);
    expect(asked).toEqual([...BEGIN_TO_END, "calibration-abandon"]);
  });

  test("a begin that is refused leaves nothing to abandon", async () => {
    const { ask, asked } = recorder({ "calibration-begin": () => refused("busy since noon") });
    expect(await go(ask)).toMatchObject({ is: "failed", failure: { message: "busy since noon" } });
    expect(asked).toEqual(["calibration-begin"]);
  });

  test("a capture that was not still is tried again for as long as the technician likes", async () => {
    const whys: string[] = [];
    let left = 2;
    const { ask, asked } = recorder({
      "calibration-check": () => (left-- > 0 ? refused(`swung ${left}`) : (undefined as never)),
    });
    const again = async (why: string): Promise<boolean> => whys.push(why) > 0;
    expect(await go(ask, { again })).toMatchObject({ is: "kept" });
    expect(whys).toEqual(["swung 1", "swung 0"]);
    expect(asked.filter((verb) => verb === "calibration-check")).toHaveLength(PLAN.length + 2);
  });

  test("a rig is not asked: what is refused ends it, abandoned", async () => {
    const { ask, asked } = recorder({ "calibration-check": () => refused("it swung") });
    expect(await go(ask)).toMatchObject({ is: "failed", failure: { exit: 1, message: "it swung" } });
    expect(asked).toEqual(["calibration-begin", "calibration-check", "calibration-abandon"]);
  });

  test("a recorder that is gone is not asked again and again", async () => {
    const gone: Reply = { ok: false, failure: { exit: 1, message: "hung up" } };
    const { ask, asked } = recorder({ "calibration-check": () => gone });
    expect(await go(ask, { again: async () => true })).toMatchObject({ failure: { message: "hung up" } });
    expect(asked).toEqual(["calibration-begin", "calibration-check", "calibration-abandon"]);
  });

  test.each([0, 1, 2])("broken off at capture %d, it abandons and keeps nothing", async (at) => {
    const controller = new AbortController();
    let captures = 0;
    const { ask, asked } = recorder({
      // Hanging up answers with nothing.
      "calibration-check": () => {
        if (captures++ < at) return undefined as never;
        controller.abort();
        return OK;
      },
    });
    const ended = await go(ask, {}, controller.signal);
    expect(ended).toMatchObject({ is: "failed", failure: { exit: 1, message: expect.stringMatching(/broken off/) } });
    expect(asked.at(-1)).toBe("calibration-abandon");
    expect(asked).not.toContain("calibration-accept");
  });

  test("broken off while being asked whether to keep it, it is not kept", async () => {
    const controller = new AbortController();
    const { ask, asked } = recorder();
    const keep = async (): Promise<boolean> => {
      controller.abort();
      return true;
    };
    expect(await go(ask, { keep }, controller.signal)).toMatchObject({ is: "failed" });
    expect(asked.slice(-2)).toEqual(["calibration-check", "calibration-abandon"]);
  });

  test("an accept that is refused is said, and the procedure is not left open", async () => {
    const { ask, asked } = recorder({ "calibration-accept": () => refused("the disk is full") });
    expect(await go(ask)).toMatchObject({ is: "failed", failure: { message: "the disk is full" } });
    expect(asked.at(-1)).toBe("calibration-abandon");
  });

  test("an accept that is refused may be tried again: what was hung is not lost", async () => {
    let left = 1;
    const { ask, asked } = recorder({
      "calibration-accept": () => (left-- > 0 ? refused("the disk is full") : (undefined as never)),
    });
    const whys: string[] = [];
    const again = async (why: string): Promise<boolean> => whys.push(why) > 0;
    expect(await go(ask, { again })).toMatchObject({ is: "kept" });
    expect(whys).toEqual(["the disk is full"]);
    expect(asked).toEqual([...BEGIN_TO_END, "calibration-accept", "calibration-accept"]);
  });

  test.each<[number, object, string[]]>([
    [1.02, { due: "2027-05-25T00:00:00.000Z", note: "in May" }, []],
    [1.03, { note: "in May" }, ["The record does not hold, so the day it is due is not moved."]],
  ])("a load that reads %d times itself is kept with %o", async (factor, accepted, notes) => {
    const given: object[] = [];
    const hear = (args: object): Reply => {
      given.push(args);
      return undefined as never;
    };
    const { ask } = recorder({ "calibration-accept": hear }, factor);
    const noted: string[] = [];
    const note = (text: string): void => void (text !== "" && noted.push(text));
    const accept = { due: "2027-05-25T00:00:00.000Z", note: "in May" };
    expect(await go(ask, { note }, undefined, accept)).toMatchObject({ is: "kept" });
    expect(given).toEqual([accepted]);
    expect(noted).toEqual(notes);
  });

  test("a recorder that answers in another way is told so", async () => {
    const { ask } = recorder({ "calibration-check": () => OK });
    expect(await go(ask)).toMatchObject({ is: "failed", failure: { message: expect.stringMatching(/does not know/) } });
  });
});
