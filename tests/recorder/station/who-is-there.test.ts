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

  it("is not asked where nothing comes", () => {
    const bench = mute().wait(100);
    expect(identifies(bench)).toBe(2);
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
