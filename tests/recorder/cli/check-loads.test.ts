/** `check-loads` over the whole recorder, a simulated rig on its line: what hangs there follows what the command asks for. */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { PassThrough } from "node:stream";
import { afterEach, beforeEach, describe, expect, test } from "vitest";
import { runCli } from "../../../recorder/cli/cli.ts";
import type { Call } from "../../../recorder/cli/command.ts";
import { checkLoads } from "../../../recorder/cli/commands/check-loads.ts";
import type { Configuration } from "../../../recorder/configuration/schema.ts";
import { JOINT_REGIONS } from "../../../recorder/simulated-gym/fatigue.ts";
import { trainee } from "../../../recorder/simulated-gym/trainees.ts";
import { type GymService, startGym, stopAll } from "../run/gym-service.ts";
import { placed } from "../run/place.ts";
import { cli, type FakeTerminal, fakeTerminal } from "./fake-terminal.ts";

const STATION = "knee-extension";

let configuration: Configuration;
let gym: GymService;
/** What a load on the grip is of what it was said to be. */
let honest = 1;

async function arrive(): Promise<void> {
  honest = 1;
  configuration = placed();
  gym = await startGym(configuration);
  await gym.next(
    ({ topic, station, message }) =>
      topic === "live" && station === STATION && (message as { force_N: number | null }).force_N !== null,
  );
}
afterEach(stopAll);

const socket = (): string => configuration.control.service_socket;

function put(force_N: number): void {
  const dead = { tremor: 0, wavering: 0, resting_force_N: force_N * honest };
  const plate = trainee("plate", 1, JOINT_REGIONS.knee, { style: "hold" }, dead);
  gym.gym.station(STATION).sit(force_N === 0 ? null : plate);
}

/** Does what an instruction says; answers whether it was one. */
function obey(text: string): boolean {
  if (!/\d of \d+: /.test(text)) return false;
  const hung = /: (?:Hang|Take off what is more than) ([\d.]+) N(?! and take it off)/.exec(text);
  put(hung === null ? 0 : Number(hung[1]));
  return true;
}

/** A terminal that a rig listens to. */
function rigged(columns: number | null = null): FakeTerminal {
  const terminal = fakeTerminal(columns);
  const out = (text: string): void => {
    obey(text);
    terminal.out(text);
  };
  const error = (text: string): void => {
    obey(text);
    terminal.error(text);
  };
  return { ...terminal, out, error };
}

async function checked(...words: string[]): Promise<{ exit: number; out: string; error: string }> {
  const terminal = rigged();
  const exit = await runCli(["check-loads", STATION, ...words, "--socket", socket()], terminal);
  return { exit, out: terminal.said.join("\n"), error: terminal.complained.join("\n") };
}
interface KeptNow {
  readonly in_force: string;
  readonly due: string | null;
  readonly calibrations: readonly object[];
  readonly checks: readonly { readonly check_id: string; readonly checks: readonly object[] }[];
}
const kept = async (): Promise<KeptNow> => {
  const answer = await gym.ask("calibrations", { station: STATION });
  return (answer as { result: KeptNow }).result;
};
/** Whether another procedure could begin here. */
const free = async (): Promise<boolean> => {
  const begun = await gym.ask("calibration-begin", { station: STATION });
  if (begun.ok) await gym.ask("calibration-abandon", { station: STATION });
  return begun.ok;
};

describe("with a rig that hangs the loads", () => {
  beforeEach(arrive);

  test("up, down, twice: the report, the kept check, the sheets, and a later --last", async () => {
    const before = await kept();
    const page = join(configuration.store.path, "..", "sheet.html");
    const text = join(configuration.store.path, "..", "sheet.txt");
    const words = ["--loads", "250 N; 500 N", "--series", "2", "--tolerance-percent", "0.1", "--yes"];
    const more = ["--note", "after <the> move", "--due", "2099-05-25", "--performed-by", "tech-1"];
    const { exit, out, error } = await checked(...words, ...more, "--sheet", page, "--text", text);
    expect(error).toBe("");
    expect(exit).toBe(0);
    expect(out.match(/^\d+ of \d+: /gm)).toHaveLength(10);
    expect(out).toMatch(/^ {2}250 N, up: 2(49|50|51)\.\d\d N for 250\.00 N, [+-]0\.\d\d %$/m);
    expect(out).toMatch(/^Within the limits of class (0\.5|1) over 50\.\.100 % of 500 N/m);
    expect(out).not.toMatch(/were not tried/);
    expect(out).toMatch(/^The record holds: /m);

    const after = await kept();
    expect(after.in_force).toBe(before.in_force);
    expect(after.calibrations).toEqual(before.calibrations);
    expect(after.due).toBe("2099-05-25T00:00:00.000Z");
    expect(after.checks).toHaveLength(1);
    expect(after.checks[0]).toMatchObject({ performed_by: "tech-1", note: "after <the> move" });
    expect(after.checks[0]?.checks).toHaveLength(10);
    expect(out).toContain(`kept as check ${after.checks[0]?.check_id}`);

    const html = readFileSync(page, "utf8");
    expect(html).toContain(after.checks[0]?.check_id);
    expect(html).toContain("after &lt;the&gt; move");
    const last = await cli("check-loads", STATION, "--last", "--socket", socket());
    expect(last).toMatchObject({ exit: 0, error: "" });
    expect(`${last.out}\n`).toBe(readFileSync(text, "utf8"));
    expect(await free()).toBe(true);
  });

  test("in JSON the answer alone is in the output", async () => {
    const { exit, out, error } = await checked("--loads", "400 N", "--up-only", "--yes", "--json");
    expect(exit).toBe(0);
    const answer = JSON.parse(out) as { check: { check_id: string }; report: { levels: { force_N: number }[] } };
    expect(answer.check.check_id).toBe((await kept()).checks[0]?.check_id);
    expect(answer.report).toMatchObject({ when: "as-found", levels: [{ force_N: 400 }], verdict: { is: "holds" } });
    expect(error).toMatch(/^1 of 3: /);
  });

  test("a minute with one plate: within 2 %", async () => {
    const from_s = gym.gym.station(STATION).elapsed_s;
    const { exit, out } = await checked("--quick", "400 N", "--tolerance-percent", "0,1", "--yes");
    expect(exit).toBe(0);
    expect(out).toMatch(/^Within 2 %\.$/m);
    expect(gym.gym.station(STATION).elapsed_s - from_s).toBeLessThan(60);
    expect((await kept()).checks).toHaveLength(1);
  });

  test("and not within 2 %: exit 1, and the check is kept all the same", async () => {
    honest = 0.95;
    const { exit, out } = await checked("--quick", "400 N", "--tolerance-percent", "0.1", "--yes");
    expect(exit).toBe(1);
    expect(out).toMatch(/^Not within 2 %\.\nCalibrate before the next set\. The error of -[45]\.\d\d % at 400 N/m);
    expect((await kept()).checks).toHaveLength(1);
    expect((await cli("check-loads", STATION, "--last", "--socket", socket())).exit).toBe(1);
  });

  test("a load the recorder refuses ends it, and the station is free again", async () => {
    honest = 0;
    const { exit, error } = await checked("--loads", "40000 N", "--yes");
    expect(exit).toBe(1);
    expect(error).toMatch(/puts 40000 N on a cell of 2000 N\. Use a load of at most 1500 N\./);
    expect(await free()).toBe(true);
    expect((await kept()).checks).toEqual([]);
  });

  test("Ctrl-C in the middle of a capture: nothing is kept, and the station is free again", async () => {
    const terminal = rigged();
    const out = (text: string): void => {
      terminal.out(text);
      if (text.startsWith("2 of ")) setImmediate(terminal.interrupt);
    };
    const words = ["check-loads", STATION, "--loads", "250 N", "--yes", "--socket", socket()];
    expect(await runCli(words, { ...terminal, out })).toBe(1);
    expect(terminal.complained).toEqual([expect.stringMatching(/^The check was broken off and nothing is kept/)]);
    expect(await free()).toBe(true);
    expect((await kept()).checks).toEqual([]);
  });
});

describe("with somebody at the terminal", () => {
  beforeEach(arrive);

  /** Answers every question with Enter, or as told, once the load hangs. */
  async function sitting(
    flags: Call["flags"],
    answers: (text: string) => string | null,
    columns: number | null = null,
  ) {
    const typed = Object.assign(new PassThrough(), { isTTY: true });
    const terminal = fakeTerminal(columns);
    const answered = (say: (text: string) => void) => (text: string) => {
      say(text);
      const answer = answers(text);
      if (answer !== null) typed.write(`${answer}\n`);
      else if (obey(text)) typed.write("\n");
    };
    const call: Call = {
      operands: [STATION],
      flags: { ...flags, socket: socket() },
      terminal: { ...terminal, out: answered(terminal.out), error: answered(terminal.error) },
    };
    const ended = await checkLoads(call, typed);
    return { ended, said: terminal.said, typed, terminal };
  }

  test("is asked for the loads, told each step, sees the live value, and keeps the check", async () => {
    const { ended, said } = await sitting(
      {},
      (text) =>
        /^Which loads/.test(text)
          ? "none at all"
          : /is no load/.test(text)
            ? "250 N, 400 N"
            : /^Keep/.test(text)
              ? ""
              : null,
      80,
    );
    expect(ended).toBe(0);
    expect(said.filter((text) => /^\n\d of 5: /.test(text))).toHaveLength(5);
    expect(said.some((text) => /^ {2}reading 250 N: 2[45]\d\.\d N/.test(text.replace("\r\x1b[2K", "")))).toBe(true);
    const keep = said.findIndex((text) => text.startsWith("Keep this check?"));
    expect(said.findIndex((text) => text.includes("The record holds"))).toBeLessThan(keep);
    expect((await kept()).checks).toHaveLength(1);
  });

  test("who says no keeps nothing", async () => {
    const { ended, said } = await sitting({ loads: "250 N" }, (text) => (/^Keep/.test(text) ? "n" : null));
    expect(ended).toBe(0);
    expect(said.at(-1)).toBe("not kept, and no sheet is written of it");
    expect((await kept()).checks).toEqual([]);
    expect(await free()).toBe(true);
  });

  test("in JSON only the answer is in the output, whatever is drawn elsewhere", async () => {
    const flags = { quick: "250 N", json: true };
    const { ended, said, terminal } = await sitting(flags, (text) => (/^Keep/.test(text) ? "y" : null), 80);
    expect(ended).toBe(0);
    expect(said.map((text) => Object.keys(JSON.parse(text)))).toEqual([["check", "report"]]);
    expect(terminal.complained.filter((text) => /^\n\d of 2: /.test(text))).toHaveLength(2);
  });

  test("who has gone keeps nothing", async () => {
    const typed = Object.assign(new PassThrough(), { isTTY: true });
    typed.end();
    const terminal = fakeTerminal();
    const call: Call = { operands: [STATION], flags: { loads: "250 N", socket: socket() }, terminal };
    expect(await checkLoads(call, typed)).toMatchObject({ exit: 1, message: expect.stringMatching(/broken off/) });
    expect(await free()).toBe(true);
  });

  test("where nobody sits it says so before it begins", async () => {
    const call: Call = { operands: [STATION], flags: { loads: "250 N", socket: socket() }, terminal: fakeTerminal(80) };
    const ended = await checkLoads(call, new PassThrough());
    expect(ended).toMatchObject({ exit: 1, message: expect.stringMatching(/^nobody can be asked here: .*--yes/) });
    expect(await free()).toBe(true);
  });
});

describe("words that do not fit", () => {
  test.each([
    [["--loads", "20 stone", "--yes"], "stone is no unit of a load: kg, g and lb are masses"],
    [["--loads", "20 kg,", "--yes"], "Nothing is no load"],
    [["--quick", "10 kg, 20 kg", "--yes"], "--quick takes one load"],
    [["--quick", "10 kg", "--series", "2"], "--quick is one load, once"],
    [["--loads", "10 kg", "--series", "4"], "--series takes 1, 2 or 3, not 4"],
    [["--yes"], "--yes asks nothing: say what is hung"],
    [["--loads", "10 kg", "--tolerance-percent", "11"], "--tolerance-percent takes 0 to 10, not 11"],
    [["--loads", "10 kg", "--due", "soon", "--yes"], "--due"],
    [["--last", "--loads", "10 kg"], "--last prints what is kept: leave out --loads"],
  ])("%j is wrong usage", async (words, sentence) => {
    const { exit, error } = await cli("check-loads", STATION, ...words, "--socket", "/nowhere/control.sock");
    expect(error).toContain(sentence);
    expect(exit).toBe(2);
  });

  test("a station without a record is told to be calibrated", async () => {
    configuration = placed();
    gym = await startGym(configuration, false);
    const sentence = `no calibration is in force at ${STATION}: make one with \`tidemark calibrate ${STATION}\``;
    for (const words of [["--last"], ["--quick", "400 N", "--yes"]]) {
      expect(await cli("check-loads", STATION, ...words, "--socket", socket())).toMatchObject({
        exit: 1,
        error: sentence,
      });
    }
  });
});
