/** Who is on the line, where nobody says so, or somebody else does; and trouble that outlasts an open. */
import { describe, expect, it } from "vitest";
import { Bench, readyBench } from "./bench.ts";

const identifies = (bench: Bench): number => bench.board.heard.filter(({ kind }) => kind === "identify").length;
const warnings = (bench: Bench): string[] =>
  bench.did("log").flatMap(({ level, text }) => (level === "warn" ? [text] : []));

describe("a board that does not say who it is", () => {
  const mute = (): Bench => {
    const bench = new Bench();
    bench.board.ignores.add("identify").add("lamp");
    return bench.open();
  };

  it("is asked again, ever more seldom, as long as its readings come; one word in the log, and an alarm that stands", () => {
    const bench = mute().pull(300, 0);
    // Each question is said twice. After the one at the open: 4, 8, 16, 32 s later, then every 32 s.
    const questions = 1 + [4, 12, 28, 60, 92, 124, 156, 188, 220, 252, 284].length;
    expect(identifies(bench)).toBe(2 * questions);
    expect(warnings(bench).filter((text) => /identify/.test(text))).toHaveLength(1);
    expect(bench.alarm("sensor-fault")).toMatch(/did not answer the command identify, so nobody knows who it is/);
    expect(bench.force_N).toBeNull();
  });

  it("is as good as any once it does", () => {
    const bench = mute().pull(30, 0);
    bench.board.ignores.clear();
    bench.pull(32, 0);
    expect(bench.alarm("sensor-fault")).toBeNull();
    expect(bench.pull(0.5, 300).force_N).toBeCloseTo(300, 0);
  });

  it("is asked soon again after the next open", () => {
    const bench = mute().pull(300, 0);
    const before = identifies(bench);
    bench.give({ kind: "closed" });
    bench.open();
    bench.pull(7, 0);
    expect(identifies(bench) - before).toBe(2 * 2);
  });

  it("whose hello cannot be read, though it answers, is not asked without end", () => {
    const bench = new Bench();
    bench.board.hello = () => bench.board.lose(1);
    bench.open().pull(60, 0);
    // At the open and at the answer to that; then 8, 16 and 32 s after the one before.
    expect(identifies(bench)).toBe(2 + [8, 24, 56].length);
  });

  it("is not asked where nothing comes", () => {
    const bench = mute().wait(100);
    expect(identifies(bench)).toBe(2);
  });
});

describe("the board of another station", () => {
  const HOMES = { "press-left": "leg-press", "press-right": "leg-press-2" };

  it("is refused with the name of its station, and never a force; the own one is well at once", () => {
    const bench = new Bench({ board_homes: HOMES, board: { board: "press-right" } }).open().pull(3, 300);
    const swapped = "This is press-right, the board of the station leg-press-2; this station's is press-left: ";
    expect(bench.alarm("sensor-fault")).toBe(`${swapped}the cables are swapped, put each where it belongs.`);
    expect(bench.published("live").every(({ body }) => body["force_N"] === null)).toBe(true);
    expect(bench.ask("begin")).toMatchObject({ ok: false, error: { code: "sensor-fault" } });

    bench.board.restart({ board: "press-left" });
    expect(bench.listen().settle().alarm("sensor-fault")).toBeNull();
    expect(bench.pull(0.5, 300).force_N).toBeCloseTo(300, 0);
  });

  it("that comes and goes every second is no more than that", () => {
    const bench = readyBench({ board_homes: HOMES });
    for (let second = 0; second < 30; second++) {
      const board = second % 2 === 0 ? "press-right" : "press-left";
      bench.board.restart({ board, boot: (0x1000 + second).toString(16) });
      bench.listen();
      bench.recorded.length = 0;
      bench.pull(1, 300);
      const forces_N = bench.published("live").map(({ body }) => body["force_N"]);
      if (board === "press-right") expect(forces_N.every((force_N) => force_N === null)).toBe(true);
      else expect(forces_N.at(-1)).toBeCloseTo(300, 0);
    }
  });

  it("is refused where this station takes any board", () => {
    const bench = new Bench({ board_homes: HOMES, board: { board: "press-right" }, station: { board: undefined } });
    expect(bench.open().pull(1, 0).alarm("sensor-fault")).toMatch(/the board of the station leg-press-2: the cables/);
    const any = new Bench({ board_homes: HOMES, board: { board: "spare" }, station: { board: undefined } });
    expect(any.open().pull(1, 0).alarm("sensor-fault")).toBeNull();
  });

  it("that nobody knows is named, and what is expected", () => {
    const bench = new Bench({ board_homes: HOMES, board: { board: "constructor" } }).open();
    expect(bench.alarm("sensor-fault")).toMatch(
      /says it is constructor; this station's is press-left: put that one on/,
    );
  });
});

describe("trouble with a line that is open", () => {
  it("stands until it is taken back, however often the line is opened again", () => {
    const bench = readyBench();
    const mute = "/dev/press is open but nothing has come in 5 s: check the cable.";
    bench.give({ kind: "trouble", sentence: mute });
    for (let open = 0; open < 3; open++) {
      bench.give({ kind: "closed" });
      bench.give({ kind: "opened" });
      expect(bench.alarm("sensor-fault")).toBe(mute);
    }
    expect(warnings(bench)).toEqual([mute]);
    bench.give({ kind: "trouble", sentence: null });
    expect(bench.alarm("sensor-fault")).toBeNull();
  });

  it("is a closed line where nobody says more", () => {
    const bench = readyBench();
    bench.give({ kind: "closed" });
    expect(bench.alarm("sensor-fault")).toMatch(/was closed/);
    bench.give({ kind: "opened" });
    expect(bench.alarm("sensor-fault")).toBeNull();
  });
});
