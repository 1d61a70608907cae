import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import {
  LAMP_PATTERNS,
  LAMPS_OFF,
  type LampInput,
  type LampPattern,
  type Lamps,
  PATTERN_RANK,
  stepLamps,
} from "../../../protocol/serial-line/lamps.ts";

const NAMES = Object.keys(LAMP_PATTERNS) as LampPattern[];

/** Lamp 2 as it is seen: each change with its moment, ticking every 10 ms. */
function seen(inputs: Readonly<Record<number, LampPattern>>, until_ms = 4000, every_ms = 10): [number, string][] {
  let state: Lamps = LAMPS_OFF;
  const changes: [number, string][] = [];
  const step = (input: LampInput, now_ms: number) => {
    const next = stepLamps(Object.freeze(state), Object.freeze(input));
    state = next.state;
    for (const ask of next.asks) if (ask.kind === "lamp" && ask.lamp === 2) changes.push([now_ms, ask.to]);
  };
  for (let now_ms = 0; now_ms <= until_ms; now_ms += every_ms) {
    step({ kind: "tick", now_ms }, now_ms);
    const pattern = inputs[now_ms];
    if (pattern !== undefined) step({ kind: "play", pattern, now_ms }, now_ms);
  }
  return changes;
}

describe("lamp 2", () => {
  it("is on for 1.5 s at the stop", () => {
    expect(seen({ 100: "stop" })).toEqual([
      [100, "on"],
      [1600, "off"],
    ]);
  });

  it("blinks three times, and shortly, for a refused key", () => {
    const changes = seen({ 0: "refused" });
    expect(changes.map(([, to]) => to)).toEqual(["on", "off", "on", "off", "on", "off"]);
    const lengths = changes.slice(1).map(([at_ms], index) => at_ms - changes[index]![0]);
    expect(Math.max(...lengths)).toBeLessThanOrEqual(300);
  });

  it("ends every pattern off", () => {
    for (const name of NAMES) expect(seen({ 0: name }).at(-1)?.[1]).toBe("off");
  });

  it("shows every pattern unlike any other, by eye or ear: in count, or by at least 0.2 s somewhere", () => {
    for (const one of NAMES) {
      for (const other of NAMES) {
        if (one === other) continue;
        const [a, b]: (readonly number[])[] = [LAMP_PATTERNS[one], LAMP_PATTERNS[other]];
        const apart = a!.some((step_ms, index) => Math.abs(step_ms - (b![index] ?? 0)) >= 200);
        expect(a!.length !== b!.length || apart, `${one} and ${other}`).toBe(true);
      }
    }
  });

  it("gives way upwards only: a refused key does not cut the stop short, the stop cuts everything", () => {
    expect(seen({ 0: "stop", 200: "refused" })).toEqual(seen({ 0: "stop" }));
    expect(seen({ 0: "refused", 200: "stop" }).slice(-2)).toEqual([
      [200, "on"],
      [1700, "off"],
    ]);
    expect(seen({ 0: "stop", 1000: "stop" }).at(-1)).toEqual([2500, "off"]);
  });

  it("is free for any pattern once one is over", () => {
    expect(seen({ 0: "stop", 1600: "rest-half" }).slice(2)).toEqual([
      [1600, "on"],
      [1750, "off"],
    ]);
  });

  it("shows what is due when ticks come late", () => {
    expect(seen({ 0: "refused" }, 4000, 700)).toEqual([
      [0, "on"],
      [1400, "off"],
    ]);
  });
});

describe("lamp 1", () => {
  it("is asked for on change only", () => {
    const on = stepLamps(LAMPS_OFF, { kind: "lamp-1", to: "on" });
    expect(on.asks).toEqual([{ kind: "lamp", lamp: 1, to: "on" }]);
    expect(stepLamps(on.state, { kind: "lamp-1", to: "on" })).toEqual({ state: on.state, asks: [] });
    expect(stepLamps(on.state, { kind: "lamp-1", to: "blink" }).asks).toEqual([{ kind: "lamp", lamp: 1, to: "blink" }]);
  });
});

describe("the table of patterns", () => {
  it("is what is played, in the order of rank", () => {
    const source = readFileSync(new URL("../../../protocol/serial-line/lamps.ts", import.meta.url), "utf8");
    const rows = [...source.matchAll(/^ \* \| (\S+) +\| ([*0-9 ]+) +\|/gm)].map(([, name, times]) => [
      name,
      times!
        .trim()
        .split(" ")
        .map((time) => Number(time.replaceAll("*", ""))),
    ]);
    expect(rows).toEqual(PATTERN_RANK.map((name) => [name, [...LAMP_PATTERNS[name]]]));
  });
});
