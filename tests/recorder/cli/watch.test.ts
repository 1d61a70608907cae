import { afterEach, beforeEach, describe, expect, test } from "vitest";
import { runCli } from "../../../recorder/cli/cli.ts";
import { sayStation } from "../../../recorder/cli/live-text.ts";
import { SET } from "../control/fake-gym.ts";
import { type FakeTerminal, fakeTerminal } from "./fake-terminal.ts";
import { type Running, running } from "./running.ts";

let here: Running;
beforeEach(async () => {
  here = await running();
});
afterEach(() => here.stop());

const live = (second: number, more: object = {}) => ({
  phase: "working",
  at: `2026-11-24T17:03:${String(second).padStart(2, "0")}.100Z`,
  elapsed_s: second,
  force_N: 812.4,
  best_force_N: 1034.25,
  floor_force_N: 620.55,
  force_reserve: 0.46,
  effort_number: 4,
  ...more,
});
const lineAt = (second: number, station = "row"): string =>
  `${station.padEnd(14)} working   force  812 N  best 1034 N  floor  621 N  reserve  46 %  ` +
  `${`${second}.0 s`.padStart(7)}  efforts  4`;
const KEPT = `row: set ${SET.set_id} kept: effort-below-floor, 42 % lost of 1034.3 N in 28.5 s`;

/** Starts watching, and says how it ended when it has. */
async function watch(terminal: FakeTerminal, ...words: string[]): Promise<{ readonly ended: Promise<number> }> {
  const ended = runCli(["watch", ...words, "--socket", here.socket], terminal);
  while (here.gym.watchers() === 0) await new Promise(setImmediate);
  return { ended };
}
const happen = (topic: "live" | "state" | "sensor" | "set" | "effort", message: object, station = "row"): void =>
  here.gym.happen({ station, topic, message });

describe("watch", () => {
  test("into a file: a line a second, one at each change of phase, and every kept set", async () => {
    const terminal = fakeTerminal();
    const { ended } = await watch(terminal);
    happen("state", { phase: "armed" });
    happen("live", live(1));
    happen("live", live(1, { force_N: 813 }));
    happen("live", live(2));
    happen("live", live(2, { phase: "finished" }));
    happen("effort", {});
    happen("set", SET);
    await terminal.heard(4);
    terminal.interrupt();
    expect(await ended).toBe(0);
    expect(terminal.said).toEqual([lineAt(1), lineAt(2), lineAt(2).replace("working ", "finished"), KEPT]);
  });

  test("on a terminal: a line a station, drawn over itself", async () => {
    const terminal = fakeTerminal(200);
    const { ended } = await watch(terminal);
    happen("live", live(1));
    happen("live", live(1), "leg-press");
    happen("live", live(2));
    happen("set", SET);
    await terminal.heard(4);
    terminal.interrupt();
    expect(await ended).toBe(0);
    const clear = "\x1b[2K";
    const press = `${clear}${lineAt(1, "leg-press")}\n`;
    expect(terminal.said).toEqual([
      `${clear}${lineAt(1)}\n`,
      `\x1b[1A${clear}${lineAt(1)}\n${press}`,
      `\x1b[2A${clear}${lineAt(2)}\n${press}`,
      `\x1b[2A${clear}${KEPT}\n${clear}${lineAt(2)}\n${press}`,
    ]);
  });

  test("on a narrow terminal no line wraps", async () => {
    const terminal = fakeTerminal(40);
    const { ended } = await watch(terminal);
    happen("live", live(1));
    await terminal.heard(1);
    terminal.interrupt();
    await ended;
    expect(terminal.said).toEqual([`\x1b[2K${lineAt(1).slice(0, 39)}\n`]);
  });

  test("--json: every event as it came", async () => {
    const terminal = fakeTerminal();
    const { ended } = await watch(terminal, "--json", "--station", "row");
    happen("live", live(1), "leg-press");
    happen("effort", { effort_number: 1 });
    await terminal.heard(1);
    terminal.interrupt();
    expect(await ended).toBe(0);
    expect(terminal.said.map((text) => JSON.parse(text))).toEqual([
      { station: "row", topic: "effort", message: { effort_number: 1 } },
    ]);
  });

  test("ends when the recorder stops", async () => {
    const terminal = fakeTerminal();
    const { ended } = await watch(terminal);
    await here.stop();
    expect(await ended).toBe(0);
    here = await running();
  });

  test("of a station that is not here", async () => {
    const terminal = fakeTerminal();
    expect(await runCli(["watch", "--station", "rwo", "--socket", here.socket], terminal)).toBe(1);
    expect(terminal.complained).toEqual(["There is no station rwo here. Did you mean row? There are: leg-press, row."]);
  });
});

describe("a station as a line", () => {
  const house = { unit: "kgf", time_zone: "UTC" } as const;
  test("before anything is known", () => {
    expect(sayStation("row", {}, house)).toBe(
      "row            not heard yet  force         -  best         -  floor         -  reserve     -        -  efforts  0",
    );
  });

  test("in newtons, up to what is left, within a terminal of 80 columns", () => {
    const live = {
      phase: "finished",
      force_N: 9999,
      best_force_N: 9999,
      floor_force_N: 9999,
      force_reserve: 1,
    } as const;
    const line = sayStation("knee-extension", { live }, { unit: "N", time_zone: "UTC" });
    expect(line.slice(0, 79)).toMatch(/ {2}reserve 100 %$/);
  });

  test("who, why it ended, and what is wrong with the sensor", () => {
    const heard = {
      live: { phase: "finished", force_N: 9.80665 },
      state: { trainee: "T-07", stop_reason: "hold-below-floor" },
      sensor: { ready: false, alarms: [{ code: "zero-suspect", since: "", detail: "", latched: false }] },
    } as const;
    expect(sayStation("row", { ...heard, sensor: { ...heard.sensor, alarms: [...heard.sensor.alarms] } }, house)).toBe(
      "row            finished  force   1.0 kgf  best         -  floor         -  reserve     -        -  efforts  0  " +
        "T-07  ended by hold-below-floor  zero-suspect",
    );
  });

  test("without an alarm the reasons say why it is not ready", () => {
    expect(sayStation("row", { sensor: { ready: false, reasons: ["no calibration"], alarms: [] } }, house)).toMatch(
      / {2}no calibration$/,
    );
    expect(sayStation("row", { sensor: { ready: true, reasons: [], alarms: [] } }, house)).toMatch(/efforts {2}0$/);
  });
});
