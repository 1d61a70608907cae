import { describe, expect, it } from "vitest";
import {
  ANSWER_WITHIN_MS,
  type CommandEffect,
  type CommandInput,
  type Commands,
  HEARTBEAT_MS,
  NO_COMMANDS,
  stepCommands,
} from "../../../protocol/serial-line/commands.ts";
import { decodeHostLine } from "../../../protocol/serial-line/decode.ts";
import type { HostLine } from "../../../protocol/serial-line/lines.ts";

interface Run {
  readonly state: Commands;
  readonly effects: readonly CommandEffect[];
}

function run(from: Commands, inputs: readonly CommandInput[]): Run {
  let state = from;
  const effects: CommandEffect[] = [];
  for (const input of inputs) {
    const step = stepCommands(Object.freeze(state), Object.freeze(input));
    state = step.state;
    effects.push(...step.effects);
  }
  return { state, effects };
}

const said = (effects: readonly CommandEffect[]): (HostLine | string)[] =>
  effects.flatMap((effect) => {
    if (effect.do !== "write") return [];
    expect(effect.text.endsWith("\n")).toBe(true);
    const text = effect.text.slice(0, -1);
    return [decodeHostLine(text) ?? text];
  });
const outcomes = (effects: readonly CommandEffect[]) => effects.filter((effect) => effect.do !== "write");
const tick = (now_ms: number): CommandInput => ({ kind: "tick", now_ms });
const answer = (command: number, now_ms: number, error: string | null = null): CommandInput => ({
  kind: "answer",
  command,
  error,
  now_ms,
});

/** Open, with identify (1) and both lamps (2, 3) answered. */
const ready = () => {
  const opened = run(NO_COMMANDS, [{ kind: "opened", now_ms: 0 }, answer(1, 10), answer(2, 11), answer(3, 12)]);
  expect(opened.state.sent).toEqual([]);
  return opened.state;
};

describe("after an open", () => {
  it("an empty line, identify and the lamps are said", () => {
    expect(said(run(NO_COMMANDS, [{ kind: "opened", now_ms: 5 }]).effects)).toEqual([
      "",
      { kind: "identify", command: 1 },
      { kind: "lamp", command: 2, lamp: 1, to: "off" },
      { kind: "lamp", command: 3, lamp: 2, to: "off" },
    ]);
  });

  it("the lamps are said as they were asked for meanwhile, under new numbers", () => {
    const { state } = run(ready(), [
      { kind: "closed", now_ms: 100 },
      { kind: "ask", ask: { kind: "lamp", lamp: 1, to: "blink" }, now_ms: 200 },
    ]);
    expect(said(run(state, [{ kind: "opened", now_ms: 300 }]).effects)).toEqual([
      "",
      { kind: "identify", command: 4 },
      { kind: "lamp", command: 5, lamp: 1, to: "blink" },
      { kind: "lamp", command: 6, lamp: 2, to: "off" },
    ]);
  });
});

describe("commands", () => {
  it("wait for each other, and lamps for nobody", () => {
    const asked = run(ready(), [
      { kind: "ask", ask: { kind: "gain", gain: 64 }, now_ms: 100 },
      { kind: "ask", ask: { kind: "rate", rate: 10 }, now_ms: 101 },
      { kind: "ask", ask: { kind: "lamp", lamp: 2, to: "on" }, now_ms: 102 },
    ]);
    expect(said(asked.effects)).toEqual([
      { kind: "gain", command: 4, gain: 64 },
      { kind: "lamp", command: 5, lamp: 2, to: "on" },
    ]);
    const answered = run(asked.state, [answer(4, 110), answer(6, 120, "not-wired")]);
    expect(answered.effects).toEqual([
      { do: "command-answered", line: { kind: "gain", command: 4, gain: 64 }, error: null },
      { do: "write", text: expect.stringMatching(/^S,6,10\*/) },
      { do: "command-answered", line: { kind: "rate", command: 6, rate: 10 }, error: "not-wired" },
    ]);
  });

  it("are said once more after a second under the same number, then fail", () => {
    const { state } = run(ready(), [{ kind: "ask", ask: { kind: "gain", gain: 64 }, now_ms: 100 }]);
    const gain = { kind: "gain", command: 4, gain: 64 };
    const early = run(state, [tick(100 + ANSWER_WITHIN_MS - 1)]);
    expect(said(early.effects)).not.toContainEqual(gain);
    const again = run(state, [tick(100 + ANSWER_WITHIN_MS)]);
    expect(said(again.effects)[0]).toEqual(gain);
    expect(outcomes(again.effects)).toEqual([]);
    const failed = run(again.state, [tick(100 + 2 * ANSWER_WITHIN_MS)]);
    expect(outcomes(failed.effects)).toEqual([{ do: "command-failed", line: gain, because: "no-answer" }]);
    expect(said(failed.effects)).not.toContainEqual(gain);
  });

  it("that were said twice take the first answer and pass over the second", () => {
    const again = run(ready(), [{ kind: "ask", ask: { kind: "identify" }, now_ms: 100 }, tick(1100)]);
    const answered = run(again.state, [answer(4, 1105), answer(4, 1110)]);
    expect(outcomes(answered.effects)).toHaveLength(1);
  });

  it("that fail let the next one go", () => {
    const { effects } = run(ready(), [
      { kind: "ask", ask: { kind: "gain", gain: 64 }, now_ms: 0 },
      { kind: "ask", ask: { kind: "rate", rate: 10 }, now_ms: 0 },
      tick(1000),
      tick(2000),
    ]);
    expect(said(effects)).toContainEqual(expect.objectContaining({ kind: "rate" }));
  });

  it("to identify are one while one is under way or waits", () => {
    const { effects, state } = run(ready(), [
      { kind: "ask", ask: { kind: "identify" }, now_ms: 100 },
      { kind: "ask", ask: { kind: "identify" }, now_ms: 101 },
    ]);
    expect(said(effects)).toEqual([{ kind: "identify", command: 4 }]);
    expect(state.queue).toEqual([]);
    const queued = run(run(ready(), [{ kind: "ask", ask: { kind: "gain", gain: 64 }, now_ms: 0 }]).state, [
      { kind: "ask", ask: { kind: "identify" }, now_ms: 1 },
      { kind: "ask", ask: { kind: "identify" }, now_ms: 2 },
    ]);
    expect(queued.state.queue).toEqual([{ kind: "identify" }]);
  });

  it("fail at once when the line is closed, those under way and those that wait", () => {
    const { effects } = run(ready(), [
      { kind: "ask", ask: { kind: "gain", gain: 64 }, now_ms: 0 },
      { kind: "ask", ask: { kind: "rate", rate: 10 }, now_ms: 0 },
      { kind: "closed", now_ms: 5 },
      { kind: "ask", ask: { kind: "identify" }, now_ms: 6 },
      tick(5000),
    ]);
    expect(outcomes(effects)).toEqual([
      { do: "command-failed", line: { kind: "gain", command: 4, gain: 64 }, because: "closed" },
      { do: "command-failed", line: { kind: "rate", command: 0, rate: 10 }, because: "closed" },
      { do: "command-failed", line: { kind: "identify", command: 0 }, because: "closed" },
    ]);
    expect(said(effects)).toHaveLength(1);
  });

  it("are numbered 1..65535 and over again", () => {
    const { effects } = run({ ...ready(), last_command: 65_534 }, [
      { kind: "ask", ask: { kind: "lamp", lamp: 1, to: "on" }, now_ms: 1 },
      { kind: "ask", ask: { kind: "lamp", lamp: 1, to: "off" }, now_ms: 2 },
    ]);
    expect(said(effects)).toMatchObject([{ command: 65_535 }, { command: 1 }]);
  });
});

describe("a lamp command", () => {
  it("is said again and fails like any other", () => {
    const { effects } = run(ready(), [
      { kind: "ask", ask: { kind: "lamp", lamp: 2, to: "on" }, now_ms: 100 },
      tick(1100),
      tick(2100),
    ]);
    const on = { kind: "lamp", command: 4, lamp: 2, to: "on" };
    expect(said(effects).slice(0, 2)).toEqual([on, on]);
    expect(outcomes(effects)).toEqual([{ do: "command-failed", line: on, because: "no-answer" }]);
  });

  it("takes the place of an older one for the same lamp", () => {
    const { state } = run(ready(), [
      { kind: "ask", ask: { kind: "lamp", lamp: 2, to: "on" }, now_ms: 100 },
      { kind: "ask", ask: { kind: "lamp", lamp: 1, to: "on" }, now_ms: 150 },
      { kind: "ask", ask: { kind: "lamp", lamp: 2, to: "off" }, now_ms: 200 },
    ]);
    expect(state.sent.map(({ line }) => line)).toEqual([
      { kind: "lamp", command: 5, lamp: 1, to: "on" },
      { kind: "lamp", command: 6, lamp: 2, to: "off" },
    ]);
  });
});

describe("the heartbeat", () => {
  it("says the lamps in turn after 0.7 s of saying nothing", () => {
    const { state } = run(ready(), [
      { kind: "ask", ask: { kind: "lamp", lamp: 1, to: "on" }, now_ms: 100 },
      answer(4, 105),
    ]);
    expect(run(state, [tick(100 + HEARTBEAT_MS - 1)]).effects).toEqual([]);
    const first = run(state, [tick(100 + HEARTBEAT_MS), answer(5, 805)]);
    const second = run(first.state, [tick(100 + 2 * HEARTBEAT_MS), answer(6, 1505)]);
    expect([...said(first.effects), ...said(second.effects)]).toEqual([
      { kind: "lamp", command: 5, lamp: 1, to: "on" },
      { kind: "lamp", command: 6, lamp: 2, to: "off" },
    ]);
  });

  it("leaves no 2 s without a line, whether answered or not, with ticks up to 0.5 s apart", () => {
    for (const [every_ms, answers] of [
      [50, true],
      [50, false],
      [500, true],
      [500, false],
    ] as const) {
      let state = run(NO_COMMANDS, [{ kind: "opened", now_ms: 0 }]).state;
      let spoke_ms = 0;
      for (let now_ms = every_ms; now_ms < 60_000; now_ms += every_ms) {
        const step = stepCommands(state, tick(now_ms));
        state = step.state;
        for (const line of said(step.effects)) {
          expect(now_ms - spoke_ms).toBeLessThanOrEqual(2000);
          spoke_ms = now_ms;
          if (answers && typeof line !== "string") state = stepCommands(state, answer(line.command, now_ms)).state;
        }
      }
      expect(spoke_ms).toBeGreaterThan(58_000);
    }
  });

  it("is silent while closed", () => {
    expect(run(NO_COMMANDS, [tick(10_000)]).effects).toEqual([]);
  });
});
