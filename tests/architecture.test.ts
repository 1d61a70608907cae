/** The rules of the house, checked: who may import whom, what pure rooms may not name, and how large a file may grow. */
import { readdirSync, readFileSync } from "node:fs";
import { dirname, join, relative } from "node:path";
import { fileURLToPath } from "node:url";
import { describe, expect, test } from "vitest";

const ROOT = fileURLToPath(new URL("..", import.meta.url));

function sourcesUnder(folder: string): string[] {
  return readdirSync(join(ROOT, folder), { withFileTypes: true, recursive: true })
    .filter((entry) => entry.isFile() && entry.name.endsWith(".ts"))
    .map((entry) => relative(ROOT, join(entry.parentPath, entry.name)))
    .sort();
}

const SOURCES = ["protocol", "calibration", "recorder"].flatMap(sourcesUnder);
const read = (path: string): string => readFileSync(join(ROOT, path), "utf8");

/** Everything a file imports: `import ... from`, `export ... from`, bare imports and `import()`. */
function importsOf(text: string): string[] {
  const statements =
    /^\s*(?:import|export)\b[^;"']*?\bfrom\s*["']([^"']+)["']|^\s*import\s*["']([^"']+)["']|\bimport\(\s*["']([^"']+)["']/gm;
  return [...text.matchAll(statements)].map((match) => (match[1] ?? match[2] ?? match[3]) as string);
}

/** Imports as paths from the root; packages as they are named. */
const targetsOf = (path: string): string[] =>
  importsOf(read(path)).map((name) => (name.startsWith(".") ? relative(ROOT, join(ROOT, dirname(path), name)) : name));

/** What a room may import besides itself, by the beginning of the path. The longest rule that fits a file holds. */
const MAY_IMPORT: Readonly<Record<string, readonly string[]>> = {
  protocol: ["zod"],
  calibration: ["zod", "protocol/units.ts", "protocol/vocabulary.ts"],
  "recorder/ports.ts": [
    "protocol/",
    "calibration/",
    "recorder/calibration-ports.ts",
    "recorder/record-ports.ts",
    "recorder/care-ports.ts",
  ],
  "recorder/calibration-ports.ts": ["calibration/"],
  "recorder/within.ts": [],
  "recorder/record-ports.ts": ["protocol/"],
  "recorder/care-ports.ts": ["protocol/", "calibration/record.ts", "recorder/ports.ts"],
  "recorder/local-day.ts": [],
  "recorder/progress": ["zod", "protocol/", "calibration/statistics.ts", "calibration/uncertainty/"],
  "recorder/drawing": ["protocol/", "calibration/median.ts"],
  "recorder/set-engine": ["protocol/vocabulary.ts", "protocol/messages/set.ts"],
  "recorder/station": [
    "zod",
    "protocol/",
    "calibration/",
    "recorder/set-engine/",
    "recorder/ports.ts",
    "recorder/record-ports.ts",
    "recorder/configuration/schema.ts",
  ],
  "recorder/configuration": ["node:", "zod", "smol-toml", "protocol/"],
  "recorder/control": ["node:", "protocol/", "recorder/ports.ts", "recorder/configuration/schema.ts"],
  "recorder/store": [
    "node:",
    "@photostructure/sqlite",
    "zod",
    "protocol/",
    "calibration/",
    "recorder/ports.ts",
    "recorder/record-ports.ts",
    "recorder/care-ports.ts",
    "recorder/local-day.ts",
  ],
  "recorder/mqtt": [
    "node:",
    "mqtt",
    "aedes",
    "zod",
    "protocol/",
    "recorder/ports.ts",
    "recorder/within.ts",
    "recorder/configuration/secret.ts",
  ],
  "recorder/serial": ["node:", "serialport", "@serialport/parser-readline", "protocol/serial-line/lines.ts"],
  "recorder/simulated-gym": [
    "node:",
    "@serialport/stream",
    "@serialport/bindings-interface",
    "protocol/",
    "calibration/",
    "recorder/configuration/schema.ts",
  ],
  "recorder/tools": ["node:", "zod", "protocol/"],
  "recorder/cli": [
    "node:",
    "zod",
    "protocol/",
    "recorder/configuration/",
    "recorder/control/ports.ts",
    "recorder/control/line-reader.ts",
    "recorder/drawing/",
    "recorder/local-day.ts",
    "calibration/record.ts",
    "calibration/uncertainty/check-budget.ts",
    "calibration/check-report/",
    "calibration/gravity.ts",
    "calibration/procedure/known-load.ts",
    "calibration/procedure/mass-classes.ts",
    "calibration/self-test/",
    "calibration/uncertainty/uncertainty.ts",
    "recorder/ports.ts",
    "recorder/tools/asyncapi.ts",
    "recorder/serial/port-list.ts",
    "recorder/serial/port-advice.ts",
    "recorder/serial/port-surroundings.ts",
    "recorder/mqtt/broker-address.ts",
    "recorder/mqtt/listening.ts",
    "recorder/mqtt/trouble.ts",
    "recorder/run/disk.ts",
    "recorder/run/volatile-disk.ts",
    "recorder/run/run.ts",
    "recorder/run/replay.ts",
    "recorder/run/floor-steps.ts",
    "recorder/run/version.ts",
    "recorder/run/without-recorder.ts",
  ],
  "recorder/run": ["node:", "pino", "zod", "protocol/", "calibration/", "recorder/"],
  "recorder/main.ts": ["recorder/cli/"],
};

function ruleFor(path: string): string {
  const fitting = Object.keys(MAY_IMPORT).filter((room) => path === room || path.startsWith(`${room}/`));
  return fitting.sort((a, b) => b.length - a.length)[0] ?? "";
}

/** `recorder/run` joins everything, but nothing joins it with the command line, which is above it. */
const NEVER: Readonly<Record<string, readonly string[]>> = { "recorder/run": ["recorder/cli/", "recorder/main.ts"] };

function forbidden(path: string): string[] {
  const room = ruleFor(path);
  const allowed = MAY_IMPORT[room] ?? [];
  const never = NEVER[room] ?? [];
  return targetsOf(path).filter((target) => {
    if (never.some((start) => target.startsWith(start))) return true;
    if (target.startsWith(`${room}/`)) return false;
    return !allowed.some((start) => target === start || (/[/:]$/.test(start) && target.startsWith(start)));
  });
}

const PURE = [
  "protocol/",
  "calibration/",
  "recorder/set-engine/",
  "recorder/station/",
  "recorder/progress/",
  "recorder/drawing/",
];
const BANNED: readonly (readonly [string, RegExp])[] = [
  ["Date.now", /\bDate\s*\.\s*now\b/],
  ["new Date() of now", /\bnew\s+Date\s*\(\s*\)/],
  ["performance", /\bperformance\b/],
  ["timers", /\b(setTimeout|setInterval|setImmediate|queueMicrotask)\b/],
  ["randomness", /\b(Math\s*\.\s*random|randomUUID|crypto)\b/],
  ["process", /\bprocess\s*\./],
  ["console", /\bconsole\b/],
  ["a Node module", /["']node:/],
  ["fetch", /\bfetch\s*\(/],
];
const withoutComments = (text: string): string => text.replace(/\/\*[\s\S]*?\*\//g, "").replace(/\/\/[^\n]*/g, "");
const namesBanned = (text: string): string[] =>
  BANNED.flatMap(([name, pattern]) => (pattern.test(withoutComments(text)) ? [name] : []));

describe("imports", () => {
  test.each(SOURCES)("%s imports only what its room may", (path) => {
    expect(ruleFor(path), "every file belongs to a room").not.toBe("");
    expect(forbidden(path)).toEqual([]);
  });

  test("nothing outside the simulated gym's own door knows it", () => {
    const knowing = SOURCES.filter(
      (path) => !path.startsWith("recorder/simulated-gym/") && targetsOf(path).some((t) => t.includes("simulated-gym")),
    );
    expect(knowing).toEqual(["recorder/run/simulate.ts", "recorder/run/simulated-weeks.ts"]);
  });
});

describe("pure rooms", () => {
  test.each(SOURCES.filter((path) => PURE.some((room) => path.startsWith(room))))("%s names no effect", (path) => {
    expect(namesBanned(read(path))).toEqual([]);
    expect(withoutComments(read(path))).not.toMatch(/^let /m);
    expect(read(path)).not.toMatch(/(v8|c8|istanbul) ignore/);
  });
});

describe("size", () => {
  const lines = (path: string): number => read(path).split("\n").length - 1;

  test("main.ts decides nothing, so it is short", () => expect(lines("recorder/main.ts")).toBeLessThanOrEqual(100));

  test("no source file is longer than one sitting", () => {
    expect(SOURCES.filter((path) => lines(path) > 400)).toEqual([]);
    // Most stay under 250; those that do not are named here, so that growing one is a decision.
    expect(SOURCES.filter((path) => lines(path) > 250)).toEqual(LONG_ON_PURPOSE);
  });

  test("nothing is called by a name that says nothing", () => {
    const vague = SOURCES.filter((path) => /(^|\/)(utils?|helpers?|common|types|misc)(\.ts|\/)/.test(path));
    expect(vague).toEqual([]);
  });
});

const LONG_ON_PURPOSE: readonly string[] = [];

describe("the rules themselves", () => {
  test("every way to import is seen", () => {
    const text = `import {\n  a,\n} from "./a.ts";\nimport "b";\nexport * from './c.ts';\nconst d = import("./d.ts");`;
    expect(importsOf(text)).toEqual(["./a.ts", "b", "./c.ts", "./d.ts"]);
  });

  test("a planted effect is seen, a comment is not", () => {
    expect(namesBanned("const now = Date.now();")).toEqual(["Date.now"]);
    expect(namesBanned("const at = new Date(wall_ms).toISOString();")).toEqual([]);
    expect(namesBanned("// console and process.env are for others\nconst a = 1;")).toEqual([]);
    expect(namesBanned(`import { x } from "node:fs"; setTimeout(x, 1);`)).toEqual(["timers", "a Node module"]);
  });
});
