/** `tidemark calibrate STATION`, whole visits over the whole recorder; what hangs on its simulated rig is what was asked for. */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, test } from "vitest";
import { stopAll } from "../run/gym-service.ts";
import { arrive, type Bench, CTRL_C, type KeptNow, type Move, STATION, visit, WAIT } from "./calibrate-bench.ts";

/** Everything there is to do, without a word that is not needed. */
const SHORT: Readonly<Record<string, Move>> = {
  "Is all of that so": "y",
  "Who calibrates": "tech-1",
  "at the handle, or at the cell": "",
  "How many degrees": "",
  "Is a known load at hand": "n",
  "Which load will hang for the scale": "40 kg",
  "How well is it known": "M1",
  "Then leave nothing on that is not always there, and hands off": "",
  "in all at the marked grip": "",
  "come down to": "skip",
  "Which other load": "20 kg",
  "Hang 20 kg in all. Let it down": "",
  "Another check load": "",
  "Take everything off": "skip",
  "Keep this calibration": "yes",
  "What is worth noting": "",
  "When is it to be done again": "",
};

let bench: Bench;
let before: KeptNow;
afterEach(stopAll);

async function withRecord(): Promise<void> {
  bench = await arrive();
  before = await bench.kept();
}

async function nothingChanged(): Promise<void> {
  expect(await bench.kept()).toEqual(before);
  expect(await bench.free()).toBe(true);
}

/** Without ids, days and what noise decides. */
const levelled = (text: string): string =>
  text
    .replaceAll(/[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g, "ID")
    .replaceAll(/--use [0-9a-f]{8}\b/g, "--use ID")
    .replaceAll(/\d{4}-\d\d-\d\d/g, "DAY")
    .replaceAll(/^ {2}now .*\n/gm, "")
    .replaceAll(/^ {2}(?!cell|working|gravity|in force|loads).*$/gm, (line) =>
      line
        .replaceAll(/-?\d+\.\d+|\d+ (?=%|counts)/g, (number) => (number.includes(".") ? "#" : "# "))
        .replaceAll(/right to # %|# % too (little|much)/g, "# % off")
        .replaceAll(/# % (more|fewer)/g, "# % other"),
    );

describe("a whole visit", () => {
  beforeEach(withRecord);

  test("as found, scale from both sides, two check loads: kept, word for word", async () => {
    const sheet = join(bench.configuration.store.path, "..", "sheet.html");
    const { exit, text, error } = await visit(bench, {
      moves: {
        ...SHORT,
        "Is a known load at hand": "",
        "Which load will hang, in all": "20 kg",
        "Another load": "",
        "Calibrate anew now": "",
        "come down to": "",
        "Hang 10 kg": "",
        "Take everything off": "",
        "Another check load": ["10 kg", ""],
        "What is worth noting": "new bearing",
        "When is it to be done again": "6",
      },
      words: ["--sheet", sheet],
    });
    expect(error).toBe("");
    expect(exit).toBe(0);
    await expect(`${levelled(text.replace(sheet, "FILE"))}\n`).toMatchFileSnapshot("calibrate-visit.txt");
    for (const line of text.split("\n").filter((said) => !/^(kept|check it|back|sheet)/.test(said))) {
      expect(line.length).toBeLessThan(80);
    }

    const after = await bench.kept();
    const [record] = after.calibrations.filter(({ calibration_id }) => calibration_id === after.in_force);
    expect(after.in_force).not.toBe(before.in_force);
    expect(text).toContain(`kept as calibration ${after.in_force}`);
    expect(record).toMatchObject({ performed_by: "tech-1", note: "new bearing" });
    expect(record).toMatchObject({
      points: [
        { force_N: 0 },
        // OIML R 111-1, M1: 20 kg and 50 kg are known to 5e-5.
        { mass_kg: 40, loading: "increasing", applied: { at: "handle", lever_angle_deg: 0, relative_tolerance: 5e-5 } },
        { mass_kg: 40, loading: "decreasing" },
      ],
      checks: [
        { when: "as-found", force_N: 0, loading: "increasing" },
        { when: "as-found", mass_kg: 20, loading: "increasing" },
        { when: "as-left", mass_kg: 20, loading: "increasing" },
        { when: "as-left", mass_kg: 10, loading: "increasing" },
        { when: "as-left", force_N: 0, loading: "decreasing" },
      ],
    });
    // What was shown before the yes is what was kept.
    const { expanded_uncertainty_N } = record as unknown as { expanded_uncertainty_N: number };
    expect(text).toContain(`uncertainty  ${expanded_uncertainty_N.toFixed(2)} N or `);
    expect(readFileSync(sheet, "utf8")).toContain(after.in_force);
    expect(await bench.free()).toBe(true);
  });

  test("who says no keeps nothing", async () => {
    const { exit, error } = await visit(bench, { moves: { ...SHORT, "Keep this calibration": ["maybe", "n"] } });
    expect(exit).toBe(1);
    expect(error).toBe(
      "The calibration was left: the old calibration stays in force, and nothing of this visit is kept.",
    );
    await nothingChanged();
  });

  test("what was found may be kept as a check, and the record stays", async () => {
    const { exit, text } = await visit(bench, {
      moves: {
        ...SHORT,
        "Is a known load at hand": "y",
        "Which load will hang, in all": "20 kg",
        "Another load": "",
        "Calibrate anew now": "n",
        "Keep what was found": "",
        "When is it to be looked at again": "12",
      },
    });
    expect(exit).toBe(0);
    const after = await bench.kept();
    expect(after.in_force).toBe(before.in_force);
    expect(after.calibrations).toEqual(before.calibrations);
    expect(text).toContain(`kept as check ${after.checks[0]?.check_id}`);
    expect(await bench.free()).toBe(true);
  });

  test("what flags say is not asked for", async () => {
    const {
      "Who calibrates": _who,
      "What is worth noting": _note,
      "When is it to be done again": _due,
      ...rest
    } = SHORT;
    const words = ["--performed-by", "tech-2", "--note", "new cell", "--due", "2099-01-31"];
    const { exit } = await visit(bench, { moves: rest, words });
    expect(exit).toBe(0);
    const after = await bench.kept();
    const record = after.calibrations.find(({ calibration_id }) => calibration_id === after.in_force);
    expect(record).toMatchObject({ performed_by: "tech-2", note: "new cell", due: "2099-01-31T00:00:00.000Z" });
  });
});

describe("what the summary says before anybody says yes", () => {
  beforeEach(withRecord);

  test("with no other load at hand: what is taken for the bend then", async () => {
    const { exit, text } = await visit(bench, { moves: { ...SHORT, "Which other load": "" } });
    expect(exit).toBe(0);
    expect(text.replaceAll(/\s+/g, " ")).toContain("No other load than that of the load point was checked");
    // Of 2000 N, 0.1 % taken as a half-width: sqrt((2 x 2 / sqrt 3)^2 + the rest^2).
    expect(text).toMatch(/uncertainty {2}2\.3\d N or 0\.4\d % at 500 N/);
    expect(text).toContain("mostly from  how straight the sensor is");
  });

  test("a scale that moved by more than both records may be off", async () => {
    const { text } = await visit(bench, {
      moves: { ...SHORT, "Keep this calibration": "n" },
      honest: (kg) => kg * 1.05,
    });
    expect(text).toMatch(/before {7}4\.9\d % more counts\/N than the record in force\n/);
    expect(text).toContain("more than both may be off: find out why before you keep this");
  });

  test("wires that were swapped since", async () => {
    const { text } = await visit(bench, { moves: { ...SHORT, "Keep this calibration": "n" }, honest: (kg) => -kg });
    expect(text).toContain("The wires are the other way round than before; the record takes care of it.");
    expect(text).toMatch(/before {7}0\.\d\d % (?:more|fewer) counts\/N than the record in force\n/);
    expect(text).toContain("zero not to be compared: the wires are the other way round");
    expect(text).not.toContain("find out why before you keep this");
  });
});

describe("what goes wrong is said, and offered again", () => {
  beforeEach(withRecord);

  test("words that cannot be read, loads that do not fit, a load that was not hung", async () => {
    let hung = 0;
    const { exit, text } = await visit(bench, {
      moves: {
        ...SHORT,
        "Is all of that so": ["what", "y"],
        "Who calibrates": ["Jo Doe", "tech-1"],
        "at the handle, or at the cell": ["hook", "handle"],
        "How many degrees": ["steep", "85", "0"],
        "Which load will hang for the scale": ["40", "1,000 kg", "300 kg", "1 kg", "40 kg"],
        "How well is it known": ["M9", "12 %", "0,1 %"],
        "in all at the marked grip": ["wait", "", ""],
        "When is it to be done again": ["soon", "2020-01-01", "2026-02-31", "0", "2099-12-31"],
      },
      // The first time it is read, nobody has hung it.
      honest(kg) {
        if (kg !== 40) return kg;
        hung += 1;
        return hung <= 2 ? 0 : kg;
      },
    });
    const flat = text.replaceAll(/\s+/g, " ");
    for (const sentence of [
      "Type yes or no.",
      "A code is 1 to 40 of A-Z, a-z, 0-9, _ and -, never a name.",
      "Type handle or cell.",
      "steep is no angle: give degrees, such as 0 or -5.",
      "At 85 degrees next to nothing pulls across the lever: level it.",
      "40 has no unit: write 40 kg for a mass, or 40 N for a force.",
      "1,000 can be read in two ways: write 1000, or 1.000.",
      "300 kg would put 2943.7 N on the sensor: at most 1500.0 N may hang here.",
      "1 kg would put only 9.8 N on the sensor: at least 40.0 N makes a scale.",
      "M9 is neither a class (E1, E2, F1, F2, M1, M2, M3) nor a percentage such as 0.5.",
      "A load known to 12 % is no load to go by: weigh it.",
      "There is nothing to do with wait.",
      "Refused. Loaded and unloaded read the same",
      "soon is no day",
      "2020-01-01 is not after today",
      "2026-02-31 is no day",
      "0 months will not do",
    ]) {
      expect(flat).toContain(sentence);
    }
    expect(exit).toBe(0);
    expect((await bench.kept()).calibrations).toHaveLength(before.calibrations.length + 1);
  });

  test("a check load that was another one, or one that was left hanging: doubted at once, read again, kept", async () => {
    let [checked, emptied] = [0, 0];
    const { exit, text } = await visit(bench, {
      moves: { ...SHORT, "Take everything off": "", "Read it again?": "" },
      honest(kg) {
        if (kg === 20) checked += 1;
        // The first time is that of the scale.
        if (kg === 0) emptied += 1;
        return (kg === 20 && checked === 1) || (kg === 0 && emptied === 2) ? 19 : kg;
      },
    });
    const flat = text.replaceAll(/\s+/g, " ");
    expect(flat).toContain("too little So far off nothing is kept: look whether it is 20 kg and hangs free.");
    expect(flat).toContain("That is more than 2 % of the working force: look whether something still hangs");
    expect(flat).not.toContain("Refused");
    expect(exit).toBe(0);
    expect((await bench.kept()).in_force).not.toBe(before.in_force);
  });

  test("a check load that was another one, and left at that: refused at the accept, checked again, kept", async () => {
    let checked = 0;
    const { exit, text } = await visit(bench, {
      moves: { ...SHORT, "Read it again?": "n" },
      honest(kg) {
        if (kg !== 20) return kg;
        checked += 1;
        return checked === 1 ? 19 : kg;
      },
    });
    expect(text.replaceAll(/\s+/g, " ")).toMatch(
      /Refused\. The check load of 196 N reads 5 % too little;.* check it again/,
    );
    expect(exit).toBe(0);
    const after = await bench.kept();
    expect(after.in_force).not.toBe(before.in_force);
  });

  test("anew begins with the load of the scale", async () => {
    const { exit } = await visit(bench, {
      moves: {
        ...SHORT,
        "Which load will hang for the scale": ["30 kg", "40 kg"],
        "Take everything off": ["anew", "skip"],
      },
    });
    expect(exit).toBe(0);
    const after = await bench.kept();
    expect(after.calibrations.find(({ calibration_id }) => calibration_id === after.in_force)).toMatchObject({
      points: [{ force_N: 0 }, { mass_kg: 40 }],
    });
  });

  test("what somebody left open can be ended there, and is not where it is somebody's", async () => {
    await bench.gym.ask("calibration-begin", { station: STATION, performed_by: "tech-9" });
    const asked = "Abandon what is open there";
    const left = await visit(bench, { moves: { ...SHORT, [asked]: "" } });
    expect(left.error).toMatch(/is being calibrated by tech-9 [\s\S]*`calibrate --step abandon`\.$/);
    expect(left.exit).toBe(1);
    // It is still theirs.
    expect(await bench.free()).toBe(false);
    expect((await visit(bench, { moves: { ...SHORT, [asked]: "y" } })).exit).toBe(0);
  });

  test.each([
    ["the load is to be read", "in all at the marked grip"],
    ["a check load is to be read", "Hang 20 kg in all. Let it down"],
  ])("a board that restarts before %s: it begins again with the scale", async (_, instruction) => {
    let times = 0;
    const restarted: Move = () => {
      times += 1;
      if (times === 1) bench.gym.gym.station(STATION).restart("watchdog");
      return "";
    };
    const { exit, text } = await visit(bench, { moves: { ...SHORT, [instruction]: restarted } });
    expect(text.replaceAll(/\s+/g, " ")).toMatch(/points taken so far are gone/i);
    expect(times).toBeGreaterThanOrEqual(2);
    expect(exit).toBe(0);
    const after = await bench.kept();
    const record = after.calibrations.find(({ calibration_id }) => calibration_id === after.in_force);
    expect(record).toMatchObject({ points: [{ force_N: 0 }, { mass_kg: 40 }] });
    expect(text.split("Which load will hang for the scale")).toHaveLength(3);
  });

  test("a recorder that goes away ends it with its reason", async () => {
    const { exit, error } = await visit(bench, {
      moves: {
        ...SHORT,
        "in all at the marked grip": () => {
          void stopAll();
          return "";
        },
      },
    });
    expect(exit).toBe(1);
    expect(error).toMatch(/tidemark|recorder/);
  });
});

test("Ctrl-C at each question leaves the old record in force, and so does the end of a pipe", {
  timeout: 240_000,
}, async () => {
  await withRecord();
  for (const question of Object.keys(SHORT)) {
    const { exit, error } = await visit(bench, { moves: { ...SHORT, [question]: CTRL_C } });
    expect([question, exit, error]).toEqual([
      question,
      1,
      "The calibration was broken off: the old calibration stays in force, and nothing of this visit is kept.",
    ]);
    await nothingChanged();
  }
  for (const question of ["Is all of that so", "in all at the marked grip", "When is it to be done again"]) {
    const { exit, error } = await visit(bench, { moves: { ...SHORT, [question]: null } });
    expect([question, exit]).toEqual([question, 1]);
    expect(error).toBe(
      "The calibration ended where nothing more was typed: the old calibration stays in force, and nothing of this visit is kept.",
    );
    await nothingChanged();
  }
});

describe("Ctrl-C elsewhere", () => {
  beforeEach(withRecord);

  test.each([
    [1, "nothing on"],
    [2, "the load of the scale"],
    [3, "a check load"],
  ])("while window %i is read: %s", async (number) => {
    let windows = 0;
    const { exit, error } = await visit(bench, {
      moves: SHORT,
      onSaid(text, terminal) {
        if (!text.startsWith("  reading for")) return;
        windows += 1;
        if (windows === number) setImmediate(terminal.interrupt);
      },
    });
    expect([windows, exit]).toEqual([number, 1]);
    expect(error).toContain("the old calibration stays in force");
    await nothingChanged();
  });

  test.each([0, 2])("%i turns after the last answer: what is said is what is so", async (turns) => {
    const after_turns = (left: number, work: () => void): void =>
      left === 0 ? work() : void setImmediate(() => after_turns(left - 1, work));
    const { exit, text, error } = await visit(bench, {
      moves: {
        ...SHORT,
        "When is it to be done again": (terminal) => {
          after_turns(turns, terminal.interrupt);
          return "12";
        },
      },
    });
    const after = await bench.kept();
    if (exit === 0) expect(text).toContain(`kept as calibration ${after.in_force}`);
    else expect(error).toContain("the old calibration stays in force");
    expect(after.in_force === before.in_force).toBe(exit === 1);
    expect(await bench.free()).toBe(true);
  });
});

describe("at a terminal that redraws", () => {
  beforeEach(withRecord);

  test("the live value stands above what is typed, and goes on while it is read, within 80 columns and without colour", async () => {
    const { exit, said } = await visit(bench, { moves: SHORT, columns: 80 });
    expect(exit).toBe(0);
    const drawn = said.filter((text) => text.includes("\x1b"));
    const reading = drawn.flatMap((text) => text.split("\r\x1b[2K  reading: ")[1] ?? []);
    expect(reading[0]).toBe("hands off");
    expect(reading).toContainEqual(
      expect.stringMatching(/^39\d\.\d N \(80\d{4} counts\), still, \d+ s left: hands off$/),
    );
    // biome-ignore lint/suspicious/noControlCharactersInRegex: colours are what must not be there
    expect(said.join("").match(/\x1b\[[\d;]*m/)).toBeNull();
    // biome-ignore lint/suspicious/noControlCharactersInRegex: what drives a terminal takes no room on it
    const bare = said.map((text) => text.replaceAll(/\x1b(\[[0-9;]*[A-Za-z]|[78])|\r/g, ""));
    for (const line of bare
      .join("\n")
      .split("\n")
      .filter((text) => !/^(kept|check it|back)/.test(text))) {
      expect(line.length).toBeLessThan(80);
    }
  });

  test("while somebody takes their time, the value goes on", async () => {
    let redrawn = 0;
    const { exit } = await visit(bench, {
      moves: {
        ...SHORT,
        "Then leave nothing on that is not always there, and hands off": WAIT,
        "Is a known load at hand": "n",
      },
      columns: 80,
      onSaid(text, terminal) {
        if (!text.includes("  now ") || !text.includes("N (")) return;
        redrawn += 1;
        if (redrawn === 3) terminal.interrupt();
      },
    });
    expect(redrawn).toBeGreaterThanOrEqual(3);
    expect(exit).toBe(1);
    await nothingChanged();
  });
});

describe("at a station that never had a record", () => {
  beforeEach(async () => {
    bench = await arrive(false);
    before = await bench.kept();
  });

  test("there is nothing to look at as found, and the first record is made", async () => {
    const { exit, text } = await visit(bench, { moves: SHORT });
    expect(exit).toBe(0);
    expect(text).toContain("no record that fits what is on the line");
    expect(text).toContain("There is no scale yet to look at as found.");
    expect(text).toContain("no record to compare with");
    expect(text).not.toContain("back to the one before");
    const after = await bench.kept();
    expect(after.calibrations).toHaveLength(1);
    expect(after.in_force).toBe(after.calibrations[0]?.calibration_id);
  });

  test("Ctrl-C says that there is none, as before", async () => {
    const { error } = await visit(bench, { moves: { ...SHORT, "in all at the marked grip": CTRL_C } });
    expect(error).toContain("there is no calibration in force, as before");
    await nothingChanged();
  });

  test("reversed wires are said, and make a record all the same", async () => {
    const { exit, text } = await visit(bench, { moves: SHORT, honest: (kg) => -kg });
    expect(exit).toBe(0);
    expect(text.match(/The wires are reversed/g)).toHaveLength(2);
    expect((await bench.kept()).calibrations[0]?.counts_per_N).toBeLessThan(0);
  });
});
