/**
 * A board in memory that speaks `tm1` with the encoder of the real line: hello and answers to what the host says, and
 * readings, keys, tags and faults as it is told. Its lines wait in `out` until somebody takes them.
 */
import { decodeHostLine } from "../../../protocol/serial-line/decode.ts";
import { encodeDeviceLine } from "../../../protocol/serial-line/encode.ts";
import type { DeviceLine, HostLine, LampState } from "../../../protocol/serial-line/lines.ts";
import type { AmplifierFault, MuscleAction } from "../../../protocol/vocabulary.ts";

type Unstamped = DeviceLine extends infer L ? (L extends DeviceLine ? Omit<L, "seq" | "t_us"> : never) : never;

export interface BoardFacts {
  readonly board: string;
  readonly firmware: string;
  readonly amplifier: string;
  readonly gain: number;
  readonly rate: number;
  /** Four hex digits. */
  readonly boot: string;
  /** What its clock shows when the test begins: long past the warm-up, unless told otherwise. */
  readonly clock_us: number;
}

export const PRESS: BoardFacts = {
  board: "press-left",
  firmware: "test/1",
  amplifier: "hx711",
  gain: 128,
  rate: 80,
  boot: "5e21",
  clock_us: 2_000_000_000,
};

export class FakeBoard {
  /** Whole lines without their LF, oldest first. */
  readonly out: string[] = [];
  /** Every line of the host, as read. */
  readonly heard: HostLine[] = [];
  readonly lamps: Record<1 | 2, LampState> = { 1: "off", 2: "off" };
  /** What it hears and does not answer. */
  readonly ignores = new Set<HostLine["kind"]>();
  gain: number;
  rate: number;
  #facts: BoardFacts;
  #seq = 0;
  #t_us: number;

  constructor(facts: Partial<BoardFacts> = {}) {
    this.#facts = { ...PRESS, ...facts };
    this.gain = this.#facts.gain;
    this.rate = this.#facts.rate;
    this.#t_us = this.#facts.clock_us;
  }

  /** Device time passes, us. */
  pass(us: number): void {
    this.#t_us = (this.#t_us + us) % 2 ** 32;
  }

  say(line: Unstamped): void {
    this.out.push(encodeDeviceLine({ ...line, seq: this.#seq, t_us: this.#t_us } as DeviceLine));
    this.#seq = (this.#seq + 1) % 65_536;
  }

  /** Lines were made and dropped on the way: their numbers are used up. */
  lose(lines: number): void {
    this.#seq = (this.#seq + lines) % 65_536;
  }

  read(counts: number, muscle_action: MuscleAction | null = null): void {
    this.say({ kind: "reading", cell: 1, counts, muscle_action });
  }

  key(key: number): void {
    this.say({ kind: "key", key, pressed: true });
    this.say({ kind: "key", key, pressed: false });
  }

  fault(fault: AmplifierFault): void {
    this.say({ kind: "fault", fault });
  }

  hello(): void {
    const { board, firmware, amplifier, boot } = this.#facts;
    this.say({ kind: "hello", firmware, board, amplifier, rate: this.rate, gain: this.gain, boot });
  }

  /** Starts anew: its clock from 0, its count from 0, an empty line and its hello. */
  restart(facts: Partial<BoardFacts> = {}): void {
    this.#facts = { ...this.#facts, boot: "77aa", clock_us: 0, ...facts };
    this.#seq = 0;
    this.#t_us = this.#facts.clock_us;
    this.gain = this.#facts.gain;
    this.lamps[1] = "off";
    this.lamps[2] = "off";
    this.out.push("");
    this.hello();
  }

  /** What the host wrote, LF included. */
  hear(text: string): void {
    for (const line of text.split("\n")) {
      const asked = decodeHostLine(line);
      if (asked === null) continue;
      this.heard.push(asked);
      if (asked.kind === "lamp" && (asked.lamp === 1 || asked.lamp === 2)) this.lamps[asked.lamp] = asked.to;
      if (this.ignores.has(asked.kind)) continue;
      if (asked.kind === "gain") this.gain = asked.gain;
      if (asked.kind === "rate") this.rate = asked.rate;
      if (asked.kind === "identify") this.hello();
      this.say({ kind: "answer", command: asked.command, error: null });
    }
  }
}
