import { describe, expect, it } from "vitest";
import { decodeDeviceLine } from "../../../protocol/serial-line/decode.ts";
import { encodeHostLine } from "../../../protocol/serial-line/encode.ts";
import type { DeviceLine, HostLine } from "../../../protocol/serial-line/lines.ts";
import {
  type Board,
  type BoardInput,
  type BoardState,
  lampsShown,
  newBoard,
  stepBoard,
} from "../../../recorder/simulated-gym/board.ts";

const BOARD: Board = {
  firmware: "simulated/1",
  board: "bench-1",
  amplifier: "hx711",
  rate_wired: true,
  gain: 128,
  rate: 80,
  clock_at_boot_us: 0,
  reports_muscle_action: true,
};

/** Lines of what a board put out; every one must be one that our own decoder takes. */
function lines(out: string): DeviceLine[] {
  expect(out === "" || out.endsWith("\n")).toBe(true);
  return out
    .split("\n")
    .filter((text) => text !== "")
    .map((text) => {
      const line = decodeDeviceLine(text);
      if (line.kind === "rejected") throw new Error(`${line.reject}: ${text}`);
      return line;
    });
}

type Untimed = BoardInput extends infer I
  ? I extends BoardInput
    ? Omit<I, "at_us"> & { at_us?: number }
    : never
  : never;

/** A board after these inputs, 12.5 ms apart unless they say when, and what it said at each. */
function play(board: Board, inputs: readonly Untimed[], from?: BoardState) {
  let state = from ?? newBoard(board);
  const said: DeviceLine[][] = [];
  for (const [index, input] of inputs.entries()) {
    const step = stepBoard(board, Object.freeze(state), { at_us: index * 12_500, ...input } as BoardInput, 5);
    state = step.state;
    said.push(lines(step.out));
  }
  return { state, said };
}

const BOOT = { kind: "boot", after: "power-up" } as const;
const reading = (counts: number) => ({ kind: "conversion", counts, muscle_action: null }) as const;
const settled = [BOOT, ...new Array(4).fill(reading(0))];
const host = (line: HostLine) => ({ kind: "bytes", text: `${encodeHostLine(line)}\n` }) as const;

describe("a board at boot", () => {
  it("sends an empty line and then its hello, and holds back four settling conversions", () => {
    const { out } = stepBoard(BOARD, newBoard(BOARD), { ...BOOT, at_us: 0 }, 5);
    expect(out.startsWith("\nH,0,0,tm1,simulated/1,bench-1,hx711,80,128,")).toBe(true);
    const { said } = play(BOARD, [...settled, reading(11)]);
    expect(said.slice(1, 5)).toEqual([[], [], [], []]);
    expect(said[5]).toEqual([{ kind: "reading", seq: 1, t_us: 62_500, cell: 1, counts: 11, muscle_action: null }]);
  });

  it("says why, where it was not for want of power, and starts clock and numbers anew under another boot", () => {
    const first = play(BOARD, [...settled, reading(1), reading(2)]);
    const again = play(BOARD, [{ kind: "boot", after: "brownout", at_us: 9_000_000 }], first.state);
    const [hello, fault] = again.said[0]!;
    expect(hello).toMatchObject({ kind: "hello", seq: 0, t_us: 0 });
    expect(fault).toMatchObject({ kind: "fault", seq: 1, fault: "brownout" });
    const before = first.said[0]![0]!;
    expect(before.kind === "hello" && hello!.kind === "hello" && before.boot !== hello!.boot).toBe(true);
  });
});

describe("what a board says by itself", () => {
  it("wraps seq after 65535 and the clock after 4294967295, never going back in between", () => {
    const late: Board = { ...BOARD, clock_at_boot_us: 4_294_900_000 };
    const { state } = play(late, settled);
    const { said } = play(
      late,
      [50_000, 67_295, 67_296, 80_000].map((at_us) => ({ ...reading(1), at_us })),
      { ...state, seq: 65_534 },
    );
    expect(said.flat().map(({ seq, t_us }) => [seq, t_us])).toEqual([
      [65_534, 4_294_950_000],
      [65_535, 4_294_967_295],
      [0, 0],
      [1, 12_704],
    ]);
  });

  it("passes keys, tags and faults on", () => {
    const { said } = play(BOARD, [
      { kind: "key", key: 1, pressed: true },
      { kind: "key", key: 1, pressed: false },
      { kind: "tag", tag: "band-0142" },
      { kind: "fault", fault: "amplifier-silent" },
    ]);
    expect(said.flat().map(({ seq, t_us, ...rest }) => rest)).toEqual([
      { kind: "key", key: 1, pressed: true },
      { kind: "key", key: 1, pressed: false },
      { kind: "tag", tag: "band-0142" },
      { kind: "fault", fault: "amplifier-silent" },
    ]);
  });

  it("gives the muscle action only where it is fitted to know it", () => {
    const moving = { kind: "conversion", counts: 1, muscle_action: "eccentric" } as const;
    expect(play(BOARD, [...settled, moving]).said[5]![0]).toMatchObject({ muscle_action: "eccentric" });
    const blind = { ...BOARD, reports_muscle_action: false };
    expect(play(blind, [...settled, moving]).said[5]![0]).toMatchObject({ muscle_action: null });
  });

  it("says once that the amplifier is saturated, and goes on with its codes", () => {
    const { said } = play(BOARD, [...settled, reading(8_388_607), reading(8_388_607), reading(5), reading(-8_388_608)]);
    expect(said.slice(5).map((step) => step.map(({ kind }) => kind))).toEqual([
      ["reading", "fault"],
      ["reading"],
      ["reading"],
      ["reading", "fault"],
    ]);
  });
});

describe("what a board answers", () => {
  it("identify: its hello, then the answer", () => {
    const { said } = play(BOARD, [BOOT, host({ kind: "identify", command: 3 })]);
    expect(said[1]!.map(({ kind }) => kind)).toEqual(["hello", "answer"]);
    expect(said[1]![1]).toMatchObject({ command: 3, error: null });
  });

  it("lamps: as asked, idempotent; one it does not have is an error", () => {
    const { said, state } = play(BOARD, [
      BOOT,
      host({ kind: "lamp", command: 1, lamp: 1, to: "on" }),
      host({ kind: "lamp", command: 2, lamp: 2, to: "blink" }),
      host({ kind: "lamp", command: 2, lamp: 2, to: "blink" }),
      host({ kind: "lamp", command: 4, lamp: 3, to: "on" }),
    ]);
    expect(lampsShown(state, 50_000)).toEqual({ 1: "on", 2: "blink" });
    expect(said.slice(1).map((step) => step[0])).toMatchObject([
      { command: 1, error: null },
      { command: 2, error: null },
      { command: 2, error: null },
      { command: 4, error: "unknown-lamp" },
    ]);
  });

  it("gain and rate: answered between the last old and the first new reading, four conversions apart", () => {
    const { said, state } = play(BOARD, [
      ...settled,
      host({ kind: "gain", command: 1, gain: 64 }),
      reading(1),
      host({ kind: "rate", command: 2, rate: 10 }),
      ...new Array(4).fill(reading(2)),
      reading(3),
    ]);
    expect(state).toMatchObject({ gain: 64, rate: 10 });
    expect(said.slice(5).map((step) => step.map(({ kind }) => kind))).toEqual([
      ["answer"],
      [],
      ["answer"],
      [],
      [],
      [],
      [],
      ["reading"],
    ]);
  });

  it("rate: an error where the pin is not wired", () => {
    const { said, state } = play({ ...BOARD, rate_wired: false }, [BOOT, host({ kind: "rate", command: 9, rate: 10 })]);
    expect(said[1]).toMatchObject([{ command: 9, error: "not-wired" }]);
    expect(state.rate).toBe(80);
  });

  it("nothing to noise, to a bad check sum and to a line that is too long, and hears the next good one", () => {
    const good = encodeHostLine({ kind: "identify", command: 3 });
    const bytes = (text: string) => ({ kind: "bytes", text }) as const;
    const { said } = play(BOARD, [
      BOOT,
      bytes("\n"),
      bytes("hello there\n"),
      bytes(`${good.slice(0, -1)}!\n`),
      bytes("x".repeat(500)),
      bytes(`${good}\n`),
      bytes(`${good}\r\n`),
    ]);
    expect(said.slice(1).map((step) => step.length)).toEqual([0, 0, 0, 0, 0, 2]);
  });

  it("the same to a line however it is cut", () => {
    const text = `\n${encodeHostLine({ kind: "identify", command: 3 })}\n${encodeHostLine({ kind: "gain", command: 4, gain: 64 })}\n`;
    for (let cut = 0; cut <= text.length; cut++) {
      const parts = [text.slice(0, cut), text.slice(cut)].map(
        (part) => ({ kind: "bytes", text: part, at_us: 9 }) as const,
      );
      const { said } = play(BOARD, [BOOT, ...parts]);
      expect(said.flat().map(({ kind }) => kind)).toEqual(["hello", "hello", "answer", "answer"]);
    }
  });
});

describe("a silent host", () => {
  it("makes both lamps blink after 5 s, until a good line comes", () => {
    const { state } = play(BOARD, [
      BOOT,
      { ...host({ kind: "lamp", command: 1, lamp: 1, to: "on" }), at_us: 1_000_000 },
    ]);
    expect(lampsShown(state, 6_000_000)).toEqual({ 1: "on", 2: "off" });
    expect(lampsShown(state, 6_000_001)).toEqual({ 1: "blink", 2: "blink" });
    const noise = play(BOARD, [{ kind: "bytes", text: "\nnoise\n", at_us: 7_000_000 }], state);
    expect(lampsShown(noise.state, 7_000_001)).toEqual({ 1: "blink", 2: "blink" });
    const heard = play(BOARD, [{ ...host({ kind: "identify", command: 2 }), at_us: 8_000_000 }], noise.state);
    expect(lampsShown(heard.state, 8_000_001)).toEqual({ 1: "on", 2: "off" });
  });
});
