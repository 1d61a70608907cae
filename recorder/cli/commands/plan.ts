import type { Plan, SidePlan } from "../../../protocol/requests/plan.ts";
import { planResultSchema, planSaveResultSchema } from "../../../protocol/requests/plan.ts";
import { SIDES } from "../../../protocol/vocabulary.ts";
import { askAndSay, JSON_FLAG } from "../ask-command.ts";
import { ask, type Question, type Reply } from "../client.ts";
import { type Command, wrongUsage } from "../command.ts";
import { changesOf, PLAN_FLAGS } from "../plan/plan-flags.ts";
import { sayNotes, sayPlan } from "../plan/plan-text.ts";
import { type House, sayPercent } from "../quantities.ts";
import { SETTINGS_FLAGS } from "../settings.ts";
import { sayTable } from "../table.ts";

export const command: Command = {
  operands: ["STATION", "[TRAINEE]"],
  flags: { ...PLAN_FLAGS, ...JSON_FLAG, ...SETTINGS_FLAGS },
  example: "tidemark plan leg-press T-07 --sides left,right --loss 35 --setup seat=4,pin=7",
  run: async (call) => {
    const [station = "", trainee] = call.operands;
    const changes = changesOf(call.flags, { station, trainee: trainee ?? "" });
    if (changes === null) {
      const given = trainee === undefined ? { station } : { station, trainee };
      return askAndSay(call, {
        verb: "plan",
        fields: {},
        given,
        result: planResultSchema,
        ask: askForAll,
        say: ({ plans }, house) => sayPlans(plans, { station, trainee }, house),
      });
    }
    if (trainee === undefined) return wrongUsage("name the trainee whose plan it is, behind the station");
    if ("exit" in changes) return changes;
    return askAndSay(call, {
      verb: "plan-save",
      fields: {},
      given: changes.args,
      result: planSaveResultSchema,
      say: ({ plan, changed }, house) => {
        if (plan === null) return changed ? `${trainee} has no plan at ${station} any more` : NONE(trainee, station);
        return changed ? sayPlan(plan, house) : `it was so already:\n${sayPlan(plan, house)}`;
      },
    });
  },
};

const NONE = (trainee: string, station: string): string => `${trainee} has no plan at ${station}`;

interface Asked {
  readonly station: string;
  readonly trainee: string | undefined;
}

/** One answer holds no more than the recorder gives at once. */
async function askForAll(question: Question): Promise<Reply> {
  const reply = await ask(question);
  const page = reply.ok ? planResultSchema.safeParse(reply.result).data : undefined;
  const last = page?.plans.at(-1);
  if (page?.more !== true || last === undefined) return reply;
  const rest = await askForAll({ ...question, args: { ...question.args, after_trainee: last.trainee } });
  const later = rest.ok ? planResultSchema.safeParse(rest.result).data : undefined;
  if (later === undefined) return rest;
  return { ok: true, result: { ...page, plans: [...page.plans, ...later.plans], more: later.more } };
}

function sayPlans(plans: readonly Plan[], { station, trainee }: Asked, house: House): string {
  const [first] = plans;
  if (first === undefined) return trainee === undefined ? `nobody has a plan at ${station}` : NONE(trainee, station);
  if (trainee !== undefined) return sayPlan(first, house);
  const rows = plans.map((plan) => [
    plan.trainee,
    plan.sides.join(", ") || "-",
    plan.style ?? "-",
    inAll(plan, ({ fatigue_threshold: loss = null }) => (loss === null ? "" : sayPercent(loss))),
    inAll(plan, ({ setup = {} }) => sayNotes(setup)),
  ]);
  return sayTable([["trainee", "sides", "style", "loss", "setup"], ...rows]);
}

/** What it says for all sides, then what is another on one: "35 %; right 30 %". */
function inAll(plan: Plan, say: (words: Pick<Plan, "fatigue_threshold" | "setup"> | SidePlan) => string): string {
  const ofSides = SIDES.flatMap((side) => {
    const said = say(plan.by_side[side] ?? {});
    return said === "" ? [] : [`${side} ${said}`];
  });
  return [say(plan), ...ofSides].filter((said) => said !== "").join("; ") || "-";
}
