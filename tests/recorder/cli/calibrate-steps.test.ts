/** `calibrate --step`: what is typed becomes a request, and what comes next is said. */
import { afterAll, afterEach, beforeAll, expect, test } from "vitest";
import { cli } from "./fake-terminal.ts";
import { type Running, running } from "./running.ts";

let here: Running;
const CHECK = { when: "as-found", force_N: 196.22, relative_error: -0.0007, warnings: ["Only one load was tried."] };
beforeAll(async () => {
  here = await running({ answer: async () => ({ ok: true, result: CHECK }) });
});
afterEach(() => here.gym.asked.splice(0));
afterAll(() => here.stop());

const step = (name: string, ...words: string[]) =>
  cli("calibrate", "row", "--step", name, ...words, "--socket", here.service_socket);
const asked = () => here.gym.asked.map(({ request }) => request);

test.each<[string, string[], object]>([
  ["load", ["--load", "20 kg"], { mass_kg: 20 }],
  ["load", ["--load", "44,1 lb", "--loading", "decreasing"], { mass_kg: 44.1 * 0.45359237, loading: "decreasing" }],
  ["load", ["--load", "10 kgf", "--at", "cell"], { force_N: 10 * 9.80665, at: "cell" }],
  ["load", ["--load", "20 kg", "--mass-class", "M1"], { mass_kg: 20, relative_tolerance: 5e-5 }],
  ["load", ["--mass-kg", "20", "--mass-class", "m3"], { mass_kg: 20, relative_tolerance: 5e-4 }],
  ["check", ["--load", "20 kg"], { mass_kg: 20, loading: "increasing" }],
  ["check", ["--force-N", "0", "--loading", "decreasing"], { force_N: 0, loading: "decreasing" }],
  ["check", ["--load", "20kg", "--series", "2"], { mass_kg: 20, loading: "increasing", series: 2 }],
  ["accept", ["--due", "2099-01-31"], { due: "2099-01-31T00:00:00.000Z" }],
  ["accept", ["--due", "2099-01-31T08:00:00Z"], { due: "2099-01-31T08:00:00Z" }],
])("%s %j", async (name, words, args) => {
  expect((await step(name, ...words)).exit).toBe(0);
  expect(asked()).toEqual([{ verb: `calibration-${name}`, args: { station: "row", ...args } }]);
});

test.each<[string, string[], string]>([
  ["load", ["--load", "20"], "--load: 20 has no unit: write 20 kg for a mass, or 20 N for a force."],
  ["load", ["--load", "1,000 kg"], "--load: 1,000 can be read in two ways: write 1000, or 1.000."],
  ["load", ["--load", "20 kg", "--mass-kg", "20"], "give the load once: --load, --mass-kg or --force-N"],
  ["check", ["--load", "20 kg", "--force-N", "0"], "give the load once: --load, --mass-kg or --force-N"],
  ["load", ["--force-N", "200", "--mass-class", "M1"], "--mass-class is of a mass: give one with --load or --mass-kg"],
  ["load", ["--load", "200 N", "--mass-class", "M1"], "--mass-class is of a mass: give one with --load or --mass-kg"],
  [
    "load",
    ["--load", "20 kg", "--mass-class", "M9"],
    "--mass-class: M9 is no class of weights: use one of E1, E2, F1, F2, M1, M2, M3.",
  ],
  [
    "load",
    ["--load", "20 kg", "--mass-class", "M1", "--tolerance-percent", "1"],
    "give how well the load is known once: --mass-class or --tolerance-percent",
  ],
  ["zero", ["--load", "20 kg"], "--step zero does not take --load"],
  ["load", ["--load", "20 kg", "--series", "1"], "--step load does not take --series"],
  ["accept", ["--loading", "increasing", "--sheet", "x"], "--step accept does not take --loading or --sheet"],
])("%s %j is wrong usage", async (name, words, sentence) => {
  expect(await step(name, ...words)).toEqual({ exit: 2, out: "", error: sentence });
  expect(asked()).toEqual([]);
});

test("without --step there is nothing to say beforehand but who, until when and where to", async () => {
  const { exit, error } = await cli("calibrate", "row", "--load", "20 kg", "--json", "--socket", here.service_socket);
  expect([exit, error]).toEqual([2, "without --step you are asked for everything: leave out --load and --json"]);
});

test("the answer is said with its remarks, and what comes next", async () => {
  expect((await step("check", "--load", "20 kg")).out).toBe(
    "check: done\n  when as-found\n  force 196.2 N\n  relative error -0.0007\n  Only one load was tried.\n" +
      "  next: another check; before the new points: zero; after them: accept",
  );
  expect((await step("accept")).out).not.toContain("next:");
  expect((await step("check", "--load", "20 kg", "--json")).out).toBe(JSON.stringify(CHECK));
});
