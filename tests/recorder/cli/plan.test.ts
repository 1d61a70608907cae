/** `tidemark plan`: what is typed is what is asked, and a plan is read out as a trainer would. */
import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest";
import type { Plan } from "../../../protocol/requests/plan.ts";
import { done } from "../../../protocol/requests/response.ts";
import type { ArgsOf } from "../../../protocol/requests/verbs.ts";
import { BLANK_PLAN } from "../station/blank-plan.ts";
import { cli } from "./fake-terminal.ts";
import { type Running, running } from "./running.ts";

const BLANK: Plan = { ...BLANK_PLAN, trainee: "T-07" };
const FULL: Plan = {
  ...BLANK,
  sides: ["left", "right"],
  exercise: "calf-press",
  style: "hold",
  intent: "held",
  fatigue_threshold: 0.35,
  setup: { pin: "7", seat: "4" },
  options: { grace_s: 2, ceiling_force_N: 400 },
  warm_up: { sets: 1, fatigue_threshold: 0.2 },
  rest_s: 120,
  by_side: { left: { fatigue_threshold: 0.25, setup: { pin: "6" } } },
  note: "slowly",
  performed_by: "P-01",
};

let here: Running;
let kept: Plan[] = [];
let saved: { plan: Plan | null; changed: boolean } = { plan: FULL, changed: true };
const asked: unknown[] = [];
beforeAll(async () => {
  here = await running({
    records: {
      // A recorder that gives two at once.
      plans: async (args: ArgsOf<"plan">) => {
        asked.push(args);
        const { station, trainee, after_trainee = "" } = args;
        const of = kept.filter((plan) => (trainee ?? plan.trainee) === plan.trainee && plan.trainee > after_trainee);
        return done({ station, plans: of.slice(0, 2), more: of.length > 2 });
      },
      savePlan: async (args) => {
        asked.push(args);
        return done(saved);
      },
    },
  });
});
afterAll(() => here.stop());
beforeEach(() => {
  kept = [];
  saved = { plan: FULL, changed: true };
  asked.length = 0;
});
const plan = (...words: string[]) => cli("plan", "leg-press", ...words, "--socket", here.socket);

describe("what is typed is what is saved", () => {
  const WHO = { station: "leg-press", trainee: "T-07" };
  test.each<[string, object]>([
    ["--sides left,right --loss 35", { sides: ["left", "right"], fatigue_threshold: 0.35 }],
    ["--setup seat=4,pin=7", { setup: { seat: "4", pin: "7" } }],
    ["--setup pin=,handle=wide", { setup: { pin: null, handle: "wide" } }],
    ["--style hold --intent held --exercise calf", { style: "hold", intent: "held", exercise: "calf" }],
    ["--warm-ups 2", { warm_up: { sets: 2, fatigue_threshold: null } }],
    ["--warm-ups 2 --warm-up-loss 20", { warm_up: { sets: 2, fatigue_threshold: 0.2 } }],
    ["--rest-s 120 --note slowly --performed-by P-01", { rest_s: 120, note: "slowly", performed_by: "P-01" }],
    ["--grace-s 2 --best-from today", { options: { grace_s: 2, best_from: "today" } }],
    ["--clear sides,loss,warm-ups,setup", { sides: [], fatigue_threshold: null, warm_up: null, setup: null }],
    ["--clear grace-s,effort-limit", { options: { grace_s: null, effort_limit: null } }],
    ["--clear grace-s --effort-limit 8", { options: { grace_s: null, effort_limit: 8 } }],
    ["--clear options", { options: null }],
    [
      "--side left --loss 25 --setup pin=6 --grace-s 1 --performed-by P-01",
      {
        by_side: { left: { fatigue_threshold: 0.25, setup: { pin: "6" }, options: { grace_s: 1 } } },
        performed_by: "P-01",
      },
    ],
    [
      "--side right --clear loss,grace-s",
      { by_side: { right: { fatigue_threshold: null, options: { grace_s: null } } } },
    ],
    ["--remove --performed-by P-01", { remove: true, performed_by: "P-01" }],
  ])("%s", async (flags, args) => {
    expect(await plan("T-07", ...flags.split(" "))).toMatchObject({ exit: 0, error: "" });
    expect(asked).toEqual([{ ...WHO, ...args }]);
  });

  test.each<[string, string]>([
    ["--loss 5", "--loss takes whole percent from 10 to 75, not 5"],
    ["--sides left,left", "sides names a side twice"],
    ["--setup seat", "--setup takes notes as seat=4,pin=7"],
    ["--setup =4", "--setup takes notes as seat=4,pin=7"],
    ["--side left", "--side goes with something to save"],
    ["--side up --loss 30", "--side takes left|right|both, not up"],
    ["--side left --rest-s 60", "--rest-s is the same on every side: leave --side out"],
    ["--side left --clear sides", "--sides is the same on every side: leave --side out"],
    ["--loss 30 --clear loss", "--loss and --clear loss cannot both be meant"],
    ["--grace-s 2 --clear options", "--options and --clear options cannot both be meant"],
    ["--grace-s 2 --clear grace-s", "--grace-s and --clear grace-s cannot both be meant"],
    ["--warm-up-loss 20", "--warm-up-loss goes with --warm-ups"],
    ["--remove --loss 30", "--remove stands alone"],
    ["--performed-by P-01", "--performed-by goes with something to save"],
  ])("%s is refused before anybody is asked", async (flags, sentence) => {
    expect(await plan("T-07", ...flags.split(" "))).toEqual({ exit: 2, out: "", error: sentence });
    expect(asked).toEqual([]);
  });

  test("to clear what is nothing of a plan names what is", async () => {
    const { exit, error } = await plan("T-07", "--clear", "toString");
    expect([exit, error]).toEqual([2, expect.stringMatching(/^--clear takes some of sides,.*, not toString$/)]);
  });

  test("whose plan it is has to be said", async () => {
    expect(await plan("--loss", "30")).toMatchObject({ exit: 2, error: expect.stringContaining("name the trainee") });
  });
});

describe("what is said of it", () => {
  test("a line for each thing that it says", async () => {
    kept = [FULL];
    expect((await plan("T-07")).out).toBe(
      [
        "T-07 at leg-press, saved 2026-11-24 10:00:00 by P-01:",
        "  sides          left, then right",
        "  exercise       calf-press",
        "  style          hold",
        "  intent         held",
        "  loss           stop at 35 %",
        "  setup          pin 7, seat 4",
        "  grace          2.0 s",
        "  ceiling force  400.0 N",
        "  warm-ups       the first set of a day and side, to 20 % loss",
        "  rest           120 s between two sets",
        "  note           slowly",
        "  left: loss     stop at 25 %",
        "  left: setup    pin 6",
      ].join("\n"),
    );
  });

  test("and none for what it does not", async () => {
    kept = [{ ...BLANK, rest_s: 60 }];
    expect((await plan("T-07")).out).toBe(
      "T-07 at leg-press, saved 2026-11-24 10:00:00:\n  rest  60 s between two sets",
    );
  });

  test("all of a station's, however many answers that takes", async () => {
    kept = ["T-01", "T-02", "T-03", "T-04", "T-05"].map((trainee) => ({ ...BLANK, trainee, rest_s: 60 }));
    kept[1] = { ...FULL, trainee: "T-02" };
    expect((await plan()).out).toBe(
      [
        "trainee  sides        style  loss             setup",
        "T-01     -            -      -                -",
        "T-02     left, right  hold   35 %; left 25 %  pin 7, seat 4; left pin 6",
        "T-03     -            -      -                -",
        "T-04     -            -      -                -",
        "T-05     -            -      -                -",
      ].join("\n"),
    );
    expect(asked).toEqual([
      { station: "leg-press" },
      { station: "leg-press", after_trainee: "T-02" },
      { station: "leg-press", after_trainee: "T-04" },
    ]);
    expect(JSON.parse((await plan("--json")).out)).toEqual({ station: "leg-press", plans: kept, more: false });
  });

  test("that there is none, that there is none any more, and that it was so already", async () => {
    expect((await plan()).out).toBe("nobody has a plan at leg-press");
    expect((await plan("T-07")).out).toBe("T-07 has no plan at leg-press");
    saved = { plan: null, changed: true };
    expect((await plan("T-07", "--remove")).out).toBe("T-07 has no plan at leg-press any more");
    saved = { plan: null, changed: false };
    expect((await plan("T-07", "--remove")).out).toBe("T-07 has no plan at leg-press");
    saved = { plan: { ...BLANK, rest_s: 60 }, changed: false };
    expect((await plan("T-07", "--rest-s", "60")).out).toMatch(/^it was so already:\nT-07 at leg-press/);
  });
});
