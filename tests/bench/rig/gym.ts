/**
 * Sixty-four boards that send on their own: readings 80 times a second each, spread over the period as free boards are,
 * and a trainee at each who presses the key, works until the set is over, and rests. Every board has two lines with the
 * same bytes on them.
 */
import { FakeBoard } from "../../recorder/station/fake-board.ts";
import type { Pty } from "./pty.ts";
import { countsOf } from "./recorder.ts";
import { spoken } from "./spoken.ts";

const PERIOD_US = 12_500;
export const ROUND_S = 40;
const FIRST_EFFORT_S = 3;
const EFFORT_S = 1.5;
const EVERY_S = 2;
const STRONGEST_N = 1500;
/** Of each repetition, of the strongest: past 20 % in half a minute. */
const TIRING = 0.015;

/** Pull of the trainee so long after the key was pressed, N. */
function force_N(at_s: number): number {
  const effort = Math.floor((at_s - FIRST_EFFORT_S) / EVERY_S);
  const into_s = at_s - FIRST_EFFORT_S - effort * EVERY_S;
  // Past the stop: 16 efforts lose a quarter.
  if (effort < 0 || effort > 16 || into_s > EFFORT_S) return 0;
  return STRONGEST_N * (1 - TIRING * effort) * Math.sin((Math.PI * into_s) / EFFORT_S);
}

class Station {
  readonly #board: FakeBoard;
  readonly #lines: readonly [Pty, Pty];
  /** Share of the period, and of the round, by which this one is behind the first. */
  readonly #behind: number;
  #readings = 0;

  constructor(name: string, lines: readonly [Pty, Pty], behind: number) {
    this.#board = new FakeBoard({ board: name });
    this.#lines = lines;
    this.#behind = behind;
    lines[0].onHost((text) => {
      this.#board.hear(text);
      this.#send();
    });
  }

  /** Sends what is due so long after the beginning; says how many readings. */
  run(passed_us: number): void {
    while ((this.#readings + this.#behind) * PERIOD_US <= passed_us) {
      this.#board.pass(PERIOD_US);
      const at_s = ((this.#readings * PERIOD_US) / 1e6 + this.#behind * ROUND_S) % ROUND_S;
      if (at_s < PERIOD_US / 1e6) this.#board.key(1);
      this.#board.read(countsOf(force_N(at_s)) + Math.round(8 * Math.random() - 4));
      this.#readings += 1;
      this.#send();
    }
  }

  #send(): void {
    const text = spoken(this.#board);
    for (const line of this.#lines) line.write(text);
  }
}

export interface Wired {
  /** Of the board. */
  readonly name: string;
  /** The same bytes go to both; the host is heard on the first. */
  readonly lines: readonly [Pty, Pty];
}

/** Goes on until the process ends. */
export function openGym(boards: readonly Wired[]): void {
  const stations = boards.map(({ name, lines }, index) => new Station(name, lines, index / boards.length));
  const began_ms = performance.now();
  setInterval(() => {
    const passed_us = (performance.now() - began_ms) * 1000;
    for (const station of stations) station.run(passed_us);
  }, 1);
}
