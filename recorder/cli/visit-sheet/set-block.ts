/** One set on the sheet of a visit: drawn, its figures in the order of the `set` message, and what was new. HTML. */
import { type SetMessage, setSchema } from "../../../protocol/messages/set.ts";
import type { TrendResult } from "../../../protocol/requests/trend.ts";
import { escaped } from "../../drawing/escaped.ts";
import { sayInstant } from "../../drawing/instants.ts";
import { setPlot } from "../../drawing/set-plot.ts";
import { stopWords } from "../../drawing/set-words.ts";
import { type House, sayField, sayForce, sayName, sayPercent } from "../quantities.ts";
import { against } from "./against.ts";
import type { VisitSet } from "./visit.ts";

/** What the heading, the foot or the drawing says, and what means something only to the program. */
const ELSEWHERE: ReadonlySet<string> = new Set([
  ...[
    "schema_version",
    "at",
    "clock_synced",
    "recorder",
    "boot",
    "simulated",
    "set_id",
    "store",
    "set_seq",
    "revision",
  ],
  ...["station", "exercise", "exercise_label", "trainee", "side", "style", "started_at", "ended_because"],
  ...["options", "quality", "engine", "decided_by", "cut_short", "force_loss_uncertainty", "note"],
]);
/** Without these a set is told by half: they stand there even where they are not known. */
const ALWAYS: ReadonlySet<string> = new Set(["best_force_N", "force_loss", "fatigue_threshold"]);
/** Said only where they are so. */
const IF_TRUE: ReadonlySet<string> = new Set(["warm_up", "void", "resting_subtracted"]);

export interface BlockFacts {
  readonly number: number;
  readonly day: string;
  readonly trend: TrendResult | undefined;
  readonly house: House;
}

export function setBlock(one: VisitSet, { number, day, trend, house }: BlockFacts): string {
  const { set, curve, floor } = one;
  const { exercise_label, side, style, station, started_at, note } = set;
  const which = [exercise_label, ...(side === null ? [] : [side]), style].join(", ");
  const time = sayInstant(started_at, house.time_zone).slice(11, 16);
  const remarks = [
    ...(set.clock_synced ? [] : ["the recorder's clock was not set when this was measured"]),
    ...(curve === null ? ["its readings cannot be read any more, so only its figures are drawn"] : []),
  ];
  const rows = [...figures(set, house), ...surroundings(one, house)];
  return `<section class="set">
<h2>${number}. ${escaped(which)} <small>${escaped(`${station}, ${time}`)}</small></h2>
${remarks.map((remark) => `<p><strong>${escaped(remark)}</strong></p>`).join("")}
<figure>${setPlot(set, curve, { ...house, floor })}</figure>
<dl>${rows.map(([name, value]) => `<div><dt>${escaped(name)}</dt><dd>${escaped(value)}</dd></div>`).join("")}</dl>
<ul>${against(set, day, trend, house)
    .map((sentence) => `<li>${escaped(sentence)}</li>`)
    .join("")}</ul>
${note === null || note === "" ? "" : `<p class="note">Note: ${escaped(note)}</p>`}
</section>`;
}

type Row = readonly [string, string];

function figures(set: SetMessage, house: House): readonly Row[] {
  return Object.keys(setSchema.shape).flatMap((name): readonly Row[] => {
    const value = set[name];
    if (ELSEWHERE.has(name)) return [];
    switch (name) {
      case "stop_reason":
        return [["ended by", stopWords(set)]];
      case "efforts":
        return [["efforts", String(set.efforts.filter(({ counted }) => counted).length)]];
      case "force_loss":
        return [["force loss", lossOf(set, house)]];
      case "expanded_uncertainty_N":
        return [["sensor uncertainty (k = 2)", sayForce(set.expanded_uncertainty_N, house)]];
      case "zero_shift_N":
        return value === null ? [] : [["zero moved by", sayField(name, value, house)]];
      case "calibration_id":
        return [];
    }
    if (IF_TRUE.has(name)) return value === true ? [[sayName(name), "yes"]] : [];
    if (value === null && !ALWAYS.has(name)) return [];
    return [[sayName(name), sayField(name, value, house)]];
  });
}

const lossOf = ({ force_loss, force_loss_uncertainty }: SetMessage, house: House): string =>
  force_loss_uncertainty === null || force_loss === null
    ? sayPercent(force_loss, 1)
    : `${sayPercent(force_loss, 1)} ± ${sayField("force_loss_uncertainty", force_loss_uncertainty, house)}`;

/** Notes in the order of their names, so that two sheets can be laid beside each other. */
function surroundings({ calibrated_at, setup }: VisitSet, { time_zone }: House): readonly Row[] {
  return [
    ["sensor calibrated", calibrated_at === null ? "-" : sayInstant(calibrated_at, time_zone).slice(0, 10)],
    ...Object.entries(setup)
      .sort(([one], [other]) => (one < other ? -1 : 1))
      .map(([name, value]) => [`setup: ${name}`, value] as const),
  ];
}
