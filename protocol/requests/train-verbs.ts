/** The verbs of who trains somebody: sets, what is kept of them, and plans. */
import { z } from "zod";
import { tagCode, traineeCode, uuid } from "../messages/parts.ts";
import { ENDED_BECAUSE, INTENTS, SIDES, STYLES } from "../vocabulary.ts";
import { planChanges } from "./plan.ts";
import { acting, amendable, beginOptions, by, oneLine, SOME_CHANGE, someChange, type VerbRule } from "./verb-parts.ts";

/** Saving nothing would leave a plan that says nothing. */
const someOrRemove = (value: object): boolean =>
  Object.hasOwn(value, "remove") !== Object.keys(planChanges).some((name) => Object.hasOwn(value, name));
const SOME_OR_REMOVE = `give at least one of ${Object.keys(planChanges).join(", ")}; or remove, alone`;

export const TRAIN_VERBS = {
  begin: {
    group: "train",
    args: z.strictObject({
      ...acting,
      trainee: traineeCode.optional(),
      side: z.enum(SIDES).optional(),
      exercise: oneLine.max(60).optional(),
      style: z.enum(STYLES).optional(),
      intent: z.enum(INTENTS).optional(),
      fatigue_threshold: z.number().min(0.1).max(0.75).optional(),
      warm_up: z.boolean().optional(),
      options: beginOptions.optional(),
    }),
  },
  end: { group: "train", args: z.strictObject({ ...acting, because: z.enum(ENDED_BECAUSE).optional() }) },
  zero: { group: "train", args: z.strictObject({ ...acting, confirm: z.boolean().optional() }) },
  resting: { group: "train", args: z.strictObject(acting) },
  amend: {
    group: "train",
    args: z.strictObject({ set_id: uuid, ...by, ...amendable }).refine(someChange, SOME_CHANGE),
  },
  /** null unlinks: the tag then stands for the trainee of its own code. */
  "tag-save": { group: "train", args: z.strictObject({ tag: tagCode, trainee: traineeCode.nullable(), ...by }) },
  "plan-save": {
    group: "train",
    args: z
      .strictObject({
        ...acting,
        trainee: traineeCode,
        ...planChanges,
        remove: z.literal(true).optional().describe("Takes the plan away."),
      })
      .refine(someOrRemove, SOME_OR_REMOVE),
  },
} as const satisfies Record<string, VerbRule>;
