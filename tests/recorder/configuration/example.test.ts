/** The example configuration: good as it stands, and nothing that the schema knows is missing from it. */
import { readFileSync } from "node:fs";
import { parse } from "smol-toml";
import { expect, it } from "vitest";
import { configurationSchema } from "../../../recorder/configuration/schema.ts";

const EXAMPLE = readFileSync(new URL("../../../recorder/configuration/example.toml", import.meta.url), "utf8");
/** With every commented key taken in; prose has no `=` behind its first word. */
const WHOLE = EXAMPLE.replaceAll(/^# (?=\[|\w+ = )/gm, "");

it("starts as it stands", () => {
  expect(configurationSchema.safeParse(parse(EXAMPLE)).error?.issues).toBeUndefined();
});

it("starts with everything in it taken in, and what it calls usual is what holds without it", () => {
  const whole = configurationSchema.parse(parse(WHOLE));
  const bare = configurationSchema.parse(parse(EXAMPLE));
  const { broker, station: wholeStations, ...others } = whole;
  // The one key that nothing stands for: without it sets are kept for ever.
  const { keep_sets_days, ...store } = others.store;
  const rest = { ...others, store };
  expect(keep_sets_days).toBe(3650);
  const { station: bareStations, broker: none, ...usual } = bare;
  expect(rest).toEqual(usual);
  expect(none).toBeUndefined();
  expect(broker).toMatchObject({ url: "mqtts://broker.example:8883" });
  const { exercise_label, board, cell, ...station } = wholeStations[0] as (typeof wholeStations)[number];
  expect(station).toEqual(bareStations[0]);
  expect([exercise_label, board, cell]).toEqual(["Leg press", "press-left", "LC-0417"]);
});

it("names every key of the schema", () => {
  const keysOf = (value: unknown): string[] =>
    typeof value === "object" && value !== null
      ? Object.entries(value).flatMap(([key, inner]) => [...(/^\d+$/.test(key) ? [] : [key]), ...keysOf(inner)])
      : [];
  const shape = configurationSchema.shape;
  const known = [
    ...Object.keys(shape),
    ...Object.keys(shape.broker.unwrap().shape),
    ...Object.keys(shape.station.element.shape),
    ...Object.keys(shape.embedded_broker.unwrap().shape),
    ...Object.keys(shape.store.shape),
    ...Object.keys(shape.control.unwrap().shape),
  ];
  expect([...new Set(keysOf(parse(WHOLE)))].sort()).toEqual([...new Set(known)].sort());
});
