/** A set for people: every field in the order it is published, its efforts as a table, quantities with their units. */
import { envelope } from "../../protocol/messages/parts.ts";
import { type Effort, optionsSchema, qualitySchema, type SetMessage, setSchema } from "../../protocol/messages/set.ts";
import { type House, sayField, sayForce, sayName, saySeconds } from "./quantities.ts";
import { sayTable } from "./table.ts";

export function saySet(set: SetMessage, house: House): string {
  const fields = Object.keys(setSchema.shape).filter((name) => !Object.hasOwn(envelope, name));
  const marks = set.simulated ? ["simulated: nobody trained, this is the program's own gym", ""] : [];
  return [...marks, ...blocks(fields, set, house)].join("\n");
}

/** Runs of plain fields, broken where a field is a block of its own. */
function blocks(fields: readonly string[], set: SetMessage, house: House): string[] {
  const said: string[] = [];
  let rows: string[][] = [];
  const width = Math.max(...fields.map((name) => sayName(name).length));
  const row = (name: string, value: unknown): string[] => [sayName(name).padEnd(width), sayField(name, value, house)];
  const rowsOf = (names: readonly string[], values: Readonly<Record<string, unknown>>): string =>
    sayTable(names.map((name) => row(name, values[name]))).replaceAll(/^/gm, "  ");
  const endRun = (): void => {
    if (rows.length > 0) said.push(sayTable(rows));
    rows = [];
  };
  for (const name of fields) {
    if (name === "options" || name === "quality") {
      endRun();
      const shape = name === "options" ? optionsSchema.shape : qualitySchema.shape;
      said.push(`${name}:`, rowsOf(Object.keys(shape), set[name]));
    } else if (name === "efforts") {
      endRun();
      said.push(`efforts: ${set.efforts.length}`);
      if (set.efforts.length > 0) said.push(sayEfforts(set.efforts, house).replaceAll(/^/gm, "  "));
    } else rows.push(row(name, set[name]));
  }
  endRun();
  return said;
}

function sayEfforts(efforts: readonly Effort[], house: House): string {
  const rows = efforts.map((effort) => [
    String(effort.effort_number),
    saySeconds(effort.start_s),
    saySeconds(effort.duration_s),
    sayForce(effort.peak_force_N, house),
    sayForce(effort.valley_force_N, house),
    sayForce(effort.mean_force_N, house),
    sayField("impulse_N_s", effort.impulse_N_s, house),
    sayForce(effort.floor_force_N, house),
    effort.muscle_action ?? "-",
    remarks(effort),
  ]);
  const heads = ["", "start", "time", "peak", "valley before", "mean", "impulse", "floor", "action", ""];
  return sayTable([heads, ...rows], [0, 1, 2, 3, 4, 5, 6, 7]);
}

function remarks({ below_floor, counted, brief }: Effort): string {
  return [
    ...(below_floor === true ? ["below floor"] : []),
    ...(counted ? [] : ["a touch"]),
    ...(brief ? ["brief"] : []),
  ].join(", ");
}

/** Where two judgements of one set differ: what was kept, and what it would have been. */
export function sayComparison(kept: SetMessage, again: SetMessage, house: House): string {
  const plain = Object.keys(setSchema.shape).filter((name) => !Object.hasOwn(envelope, name) && !BLOCKS.has(name));
  const rows = [
    ...plain.map((name) => [sayName(name), sayField(name, kept[name], house), sayField(name, again[name], house)]),
    ...Object.keys(optionsSchema.shape).map((name) => [
      sayName(name),
      sayField(name, kept.options[name], house),
      sayField(name, again.options[name], house),
    ]),
    ["efforts", String(kept.efforts.length), String(again.efforts.length)],
  ].filter(([, before, after]) => before !== after);
  if (rows.length === 0) return "judged again, to the same result";
  return sayTable([["", "kept", "judged again"], ...rows], [1, 2]);
}

const BLOCKS = new Set(["options", "efforts", "quality"]);
