/** What somebody types, line by line, until the stream ends or they break it off. */
import { createInterface } from "node:readline";

/** Where it comes from. */
export type Input = NodeJS.ReadableStream & { readonly isTTY?: boolean };

/** interrupted: Ctrl-C. closed: nothing more can be typed, as at the end of a pipe or Ctrl-D. */
export type BrokenOff = "interrupted" | "closed";

export interface Lines {
  /** The next line, without its end. Once it is broken off, none comes any more. */
  readonly next: () => Promise<string>;
  /** Resolves when it is broken off; a stream that has ended breaks off when a line is missed. */
  readonly broken: Promise<BrokenOff>;
  readonly close: () => void;
}

export function linesOf(input: Input, interrupted: AbortSignal): Lines {
  const reader = createInterface({ input, terminal: false });
  const lines = reader[Symbol.asyncIterator]();
  let breakOff: (how: BrokenOff) => void = () => {};
  const broken = new Promise<BrokenOff>((resolve) => {
    breakOff = resolve;
  });
  if (interrupted.aborted) breakOff("interrupted");
  interrupted.addEventListener("abort", () => breakOff("interrupted"), { once: true });
  return {
    broken,
    next: async () => {
      const { value, done } = await lines.next();
      if (interrupted.aborted) return NEVER;
      if (done !== true) return value;
      breakOff("closed");
      return NEVER;
    },
    close: () => reader.close(),
  };
}

/** Whoever waits for it waits until the conversation is given up. */
export const NEVER = new Promise<never>(() => {});
