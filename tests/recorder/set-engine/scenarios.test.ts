/**
 * Scenarios as transcripts: what happens, and what the engine tells, line by line, in `scenarios/`. They are read by
 * people. After a deliberate change: TRANSCRIPTS=write npx vitest run --config tests/vitest.config.ts
 * tests/recorder/set-engine/scenarios.test.ts, and read what became different.
 */
import { existsSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { EFFORT_SCENARIOS } from "./effort-scenarios.ts";
import { HOLD_SCENARIOS } from "./hold-scenarios.ts";
import { transcribe } from "./transcript.ts";

const SCENARIOS = [...HOLD_SCENARIOS, ...EFFORT_SCENARIOS];
const folder = new URL("./scenarios/", import.meta.url);
const rewrite = process.env["TRANSCRIPTS"] === "write";

describe("transcripts", () => {
  it.each(SCENARIOS)("$name", (scenario) => {
    const file = new URL(`${scenario.name}.txt`, folder);
    const text = transcribe(scenario);
    if (rewrite) writeFileSync(file, text);
    expect(existsSync(file), `${scenario.name}.txt is missing`).toBe(true);
    expect(text).toBe(readFileSync(file, "utf8"));
  });

  it("each belongs to one scenario", () => {
    expect(readdirSync(folder).sort()).toEqual(SCENARIOS.map(({ name }) => `${name}.txt`).sort());
  });
});
