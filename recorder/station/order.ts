/**
 * The order in which the effects of a step are carried out: lamps, `state`, the other signals, then what must be kept.
 * Whoever waits for a stop must hear it before anything else of the same moment is said or written.
 */
import { isSignal, type StationEffect } from "./exchange.ts";

export function inOrder(effects: readonly StationEffect[]): readonly StationEffect[] {
  if (effects.length < 2) return effects;
  const ordered = effects.toSorted((one, other) => rankOf(one) - rankOf(other));
  const written = ordered.findIndex((effect) => effect.do !== "write");
  // Several lines to the board are one call to the system.
  return written < 2 ? ordered : [joined(ordered.slice(0, written)), ...ordered.slice(written)];
}

function rankOf(effect: StationEffect): number {
  if (effect.do === "write") return 0;
  if (effect.do === "publish" && effect.topic === "state") return 1;
  return isSignal(effect) ? 2 : 3;
}

const joined = (writes: readonly StationEffect[]): StationEffect => ({
  do: "write",
  text: writes.map((effect) => (effect.do === "write" ? effect.text : "")).join(""),
});
