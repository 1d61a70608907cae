/**
 * A technician's whole visit at a terminal, word for word: the built command line on a pty of its own against the built
 * recorder, whose board at the end of another pty has on it what the technician was told to hang. The transcript beside this
 * file is what stays on the screen, with what differs from visit to visit left out; `vitest -u` writes it anew, to be read.
 */
import { afterAll, beforeAll, expect, test } from "vitest";
import { PtyTerminal } from "./pty-terminal.ts";
import { STATION, Technician } from "./technician.ts";

const SPEED = 20;
/** WGS84 normal gravity at 52 degrees and sea level, less the air's buoyancy, N of a kilogram. */
const N_PER_KG = 9.81247 * (1 - 1.5e-4);

const technician = new Technician(SPEED);
const transcript: string[] = [];

beforeAll(() => technician.arrive());
afterAll(() => technician.leave());

/** What an instruction wants on the grip, kg; null: it says nothing of loads. */
function wanted_kg(instruction: string): number | null {
  const hung = /(?:Hang|Put on|more than|come down to) (\d+) kg(?! and take)/.exec(instruction);
  if (hung !== null) return Number(hung[1]);
  return /nothing on|everything off/i.test(instruction) ? 0 : null;
}

interface Talk {
  readonly exit: number;
  readonly screen: string;
}

/** Runs a command; at every stop does what the last instruction says and presses Enter. */
async function run(words: readonly string[], asked: Readonly<Record<string, string>> = {}): Promise<Talk> {
  const terminal = new PtyTerminal([...words, "--config", technician.configuration]);
  try {
    for (;;) {
      const said = await terminal.until(/Press Enter[^\n]*\n|\[[Yy]\/[Nn]\]|[?.\]] $|exit code \d+/);
      if (/exit code \d+$/.test(said)) break;
      const answer = Object.entries(asked).find(([question]) => said.includes(question));
      const kg = wanted_kg(said);
      // To come down to a load there must have been more.
      if (said.includes("come down to") && kg !== null) await technician.hang(1.5 * kg * N_PER_KG);
      if (answer === undefined && kg !== null) await technician.hang(kg * N_PER_KG);
      terminal.enter(answer?.[1]);
    }
    const { screen } = terminal;
    transcript.push(`$ tidemark ${words.join(" ")}`, levelled(screen));
    return { exit: Number(/exit code (\d+)/.exec(screen)?.[1]), screen };
  } finally {
    await terminal.close();
  }
}

/** Without ids, dates and what noise decides. */
const levelled = (screen: string): string =>
  screen
    .replaceAll(/[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g, "ID")
    .replaceAll(/\b[0-9a-f]{8}\b/g, "ID")
    .replaceAll(/\d{4}-\d\d-\d\d([ T]\d\d:\d\d(:\d\d)?(\.\d+)?Z?)?/g, "DATE")
    .replaceAll(/(?<!class )[+-]?\d+\.\d+/g, "#")
    .replaceAll(/(right to )?# %( too (much|little))?/g, "# %")
    .replaceAll(/^[-\s─═]*$/gm, "")
    .replaceAll(/ {2,}/g, "  ")
    .replaceAll(/\n{3,}/g, "\n\n")
    .trim();

test("as found, with two known loads: what was found, and that the record holds", async () => {
  const loads = ["--loads", "20kg,40kg", "--tolerance-percent", "0.1", "--performed-by", "tech-1"];
  const { exit, screen } = await run(["check-loads", STATION, ...loads]);
  expect(screen).toContain("kept as check");
  expect(exit).toBe(0);
});

/** What the dialog asks, and what is answered; to anything else Enter. The first that fits. */
const ANSWERS = {
  "How well is it known?": "M1",
  "Which load will hang for the scale": "40 kg",
  "Which other load is there": "20 kg",
  "Which load will hang": "20 kg",
  "Is all of that so?": "y",
  "Keep this calibration?": "y",
} as const;

test("calibrated: as found, nothing on, a load from below and from above, a check, and only then accepted", async () => {
  const { in_force } = await technician.done("calibrations");
  const { exit, screen } = await run(["calibrate", STATION, "--performed-by", "tech-1"], ANSWERS);
  expect(exit).toBe(0);
  const now = await technician.done("calibrations");
  expect(now["in_force"]).not.toBe(in_force);
  expect(screen).toMatch(/friction/);
});

test("Ctrl-C while a load is read: nothing is kept, the record stays, and the station is free", async () => {
  const { in_force, checks } = await technician.done("calibrations");
  const words = ["check-loads", STATION, "--loads", "20kg", "--performed-by", "tech-1"];
  const terminal = new PtyTerminal([...words, "--config", technician.configuration]);
  try {
    await terminal.until(/Press Enter/);
    terminal.enter();
    await terminal.until(/hands off/);
    terminal.interrupt();
    expect(await terminal.exit()).toBe(1);
    transcript.push(`$ tidemark ${words.join(" ")}`, levelled(terminal.screen));
  } finally {
    await terminal.close();
  }
  expect(await technician.done("calibrations")).toMatchObject({ in_force, checks });
  await technician.done("calibration-begin");
  await technician.done("calibration-abandon");
});

test("the monthly minute with one plate, and what is kept afterwards", async () => {
  const quick = await run(["check-loads", STATION, "--quick", "40kg", "--performed-by", "tech-1"]);
  expect(quick.screen).toContain("kept as check");
  expect(quick.exit).toBe(0);
  await technician.hang(0);
  // It wants 10 s of the board's time after the load; who comes too early asks again.
  for (let zeroed = await run(["zero", STATION]); zeroed.exit !== 0; zeroed = await run(["zero", STATION])) {
    expect(zeroed.screen).toContain("or was a moment ago");
    transcript.splice(-2);
  }
  const listed = await run(["calibrations", STATION]);
  expect(listed.screen).toContain("in force");
  expect(listed.exit).toBe(0);
});

test("the transcript is as it was read", async () => {
  await expect(`${transcript.join("\n\n")}\n`).toMatchFileSnapshot("calibration-visit.txt");
});
