/**
 * Runners on the same ticks: at each, two of them are given the same line at once, and are measured; the others get it half
 * a tick later, so that all are as awake as ever and none is in the way. Who of the two is first changes every tick.
 */
import { median } from "../statistics.ts";
import type { Answers } from "./answers.ts";
import type { Runner } from "./runner.ts";

export type Pair = readonly [Runner, Runner];

/** Of one block, ms. */
export interface Block {
  readonly pair: Pair;
  readonly first_ms: readonly number[];
  readonly second_ms: readonly number[];
}

export class Race {
  readonly #runners: readonly Runner[];
  readonly #answers: Answers;
  #ticks = 0;

  constructor(runners: readonly Runner[], answers: Answers) {
    this.#runners = runners;
    this.#answers = answers;
  }

  /** Gives the line to both now; the function it returns gives it to the others. */
  tick(pair: Pair, text: string): () => void {
    this.#ticks += 1;
    this.#answers.hold();
    const [a, b] = this.#ticks % 2 === 0 ? pair : [pair[1], pair[0]];
    a.give(text, 1, true);
    b.give(text, 1, true);
    return () => {
      for (const runner of this.#runners) if (runner !== a && runner !== b) runner.give(text, 1, false);
      this.#answers.release();
    };
  }

  async settle(): Promise<void> {
    for (const runner of this.#runners) await runner.settle();
  }

  /** Once all has come: what was measured since the last block. */
  async block(pair: Pair): Promise<Block> {
    await this.settle();
    return { pair, first_ms: pair[0].take(), second_ms: pair[1].take() };
  }
}

/** The median of the blocks' ratios, the first of the pair to the second. */
export function ratioOf(blocks: readonly Block[], of: (values: readonly number[]) => number = median): number {
  return median(blocks.map(({ first_ms, second_ms }) => of(first_ms) / of(second_ms)));
}
