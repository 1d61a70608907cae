import { type BeginResult, beginResultSchema } from "../../../protocol/requests/results.ts";
import { stationCommand } from "../ask-command.ts";
import { BY, LOSS, OPTIONS, PLAN } from "../fields.ts";
import { sayNotes } from "../plan/plan-text.ts";
import { sayPercent } from "../quantities.ts";

export const command = stationCommand({
  verb: "begin",
  fields: { ...PLAN, ...LOSS, ...BY, ...OPTIONS },
  example: "tidemark begin leg-press --trainee T-07 --style hold --loss 40",
  result: beginResultSchema,
  say: sayBegin,
});

function sayBegin(set: BeginResult): string {
  const threshold =
    set.fatigue_threshold === null ? "no threshold" : `stop at ${sayPercent(set.fatigue_threshold)} loss`;
  const words = [
    set.trainee ?? "nobody named",
    ...(set.side === null ? [] : [set.side]),
    set.exercise,
    set.style,
    ...(set.intent === "maximal" ? [] : [set.intent]),
    ...(set.warm_up ? ["warm-up"] : []),
    threshold,
  ];
  const armed = `${set.station} is armed: ${words.join(", ")}; set ${set.set_id}`;
  const setup = sayNotes(set.setup ?? {});
  return [
    armed,
    ...(setup === "" ? [] : [`  setup: ${setup}`]),
    ...set.warnings.map((warning) => `  mind: ${warning}`),
  ].join("\n");
}
