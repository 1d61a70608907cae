/**
 * What the lamps show. Pure; patterns are data, stepped by `now_ms`, the host's monotonic clock.
 *
 * Lamp 1: off, on = armed or working, blinking = nearing the floor. The board does the blinking.
 * Lamp 2, a lamp or a buzzer, plays patterns and is off otherwise. Times in ms, bold = on:
 *
 * | pattern   | on and off                          | means                                              |
 * | ---       | ---                                 | ---                                                |
 * | stop      | **1500**                            | the set is over at its threshold                   |
 * | other-end | **500** 250 **500**                 | the set is over for another reason                 |
 * | warning   | **150** 150 **600**                 | force above the limit, or lost at once under load  |
 * | refused   | **150** 150 **150** 150 **150**     | a key that was refused                             |
 * | rest-half | **150**                             | half of the rest is over                           |
 *
 * A pattern gives way to one that stands above it in the table or to itself begun again; one from below it is not
 * played: a refused key must not cut the stop short.
 */
import type { HostAsk } from "./commands.ts";
import type { LampState } from "./lines.ts";

export const LAMP_PATTERNS = {
  stop: [1500],
  "other-end": [500, 250, 500],
  warning: [150, 150, 600],
  refused: [150, 150, 150, 150, 150],
  "rest-half": [150],
} as const satisfies Readonly<Record<string, readonly number[]>>;

export type LampPattern = keyof typeof LAMP_PATTERNS;

/** Highest first. */
export const PATTERN_RANK = [
  "stop",
  "other-end",
  "warning",
  "refused",
  "rest-half",
] as const satisfies readonly LampPattern[];

export interface Lamps {
  readonly lamp_1: LampState;
  readonly lamp_2: "on" | "off";
  readonly playing: { readonly pattern: LampPattern; readonly began_at_ms: number } | null;
}

export type LampInput =
  | { readonly kind: "lamp-1"; readonly to: LampState }
  | { readonly kind: "play"; readonly pattern: LampPattern; readonly now_ms: number }
  | { readonly kind: "tick"; readonly now_ms: number };

export interface LampStep {
  readonly state: Lamps;
  /** For the commands, in order. */
  readonly asks: readonly HostAsk[];
}

export const LAMPS_OFF: Lamps = { lamp_1: "off", lamp_2: "off", playing: null };

export function stepLamps(state: Lamps, input: LampInput): LampStep {
  switch (input.kind) {
    case "lamp-1":
      if (input.to === state.lamp_1) return { state, asks: [] };
      return { state: { ...state, lamp_1: input.to }, asks: [{ kind: "lamp", lamp: 1, to: input.to }] };
    case "play": {
      const { pattern, now_ms } = input;
      const current = tick(state, now_ms);
      const playing = current.state.playing?.pattern;
      if (playing !== undefined && rankOf(playing) < rankOf(pattern)) return current;
      const begun: Lamps = { ...current.state, lamp_2: "on", playing: { pattern, began_at_ms: now_ms } };
      return { state: begun, asks: [{ kind: "lamp", lamp: 2, to: "on" }] };
    }
    case "tick":
      return tick(state, input.now_ms);
  }
}

const rankOf = (pattern: LampPattern): number => PATTERN_RANK.indexOf(pattern);

/** A tick that comes late shows what is due now; what it missed is not made up for. */
function tick(state: Lamps, now_ms: number): LampStep {
  if (state.playing === null) return { state, asks: [] };
  const { pattern, began_at_ms } = state.playing;
  const due = dueAt(LAMP_PATTERNS[pattern], now_ms - began_at_ms);
  const playing = due === null ? null : state.playing;
  const lamp_2 = due ?? "off";
  const asks: HostAsk[] = lamp_2 === state.lamp_2 ? [] : [{ kind: "lamp", lamp: 2, to: lamp_2 }];
  return { state: { ...state, lamp_2, playing }, asks };
}

/** null: over. */
function dueAt(steps_ms: readonly number[], elapsed_ms: number): "on" | "off" | null {
  let until_ms = 0;
  for (const [index, step_ms] of steps_ms.entries()) {
    until_ms += step_ms;
    if (elapsed_ms < until_ms) return index % 2 === 0 ? "on" : "off";
  }
  return null;
}
