/** What goes back to the board: lamps and commands. A board of the `bare` dialect has neither. */
import {
  type CommandEffect,
  type CommandInput,
  type HostAsk,
  stepCommands,
} from "../../protocol/serial-line/commands.ts";
import { type LampInput, stepLamps } from "../../protocol/serial-line/lamps.ts";
import type { StationEffect } from "./exchange.ts";
import { andThen, only, type Station, type Step } from "./state.ts";

/** A lamp input, through to the lines it makes. */
export function showLamp(station: Station, input: LampInput, now_ms: number): Step {
  const { state, asks } = stepLamps(station.lamps, input);
  const shown = state === station.lamps ? station : { ...station, lamps: state };
  return asks.reduce((step, ask) => andThen(step, (next) => askBoard(next, ask, now_ms)), only(shown));
}

export const askBoard = (station: Station, ask: HostAsk, now_ms: number): Step =>
  tellCommands(station, { kind: "ask", ask, now_ms });

export function tellCommands(station: Station, input: CommandInput): Step {
  if (station.configuration.dialect === "bare") return only(station);
  const { state, effects } = stepCommands(station.commands, input);
  if (state === station.commands && effects.length === 0) return only(station);
  return effects.reduce<Step>(
    (step, effect) => andThen(step, (next) => carry(next, effect)),
    only({ ...station, commands: state }),
  );
}

function carry(station: Station, effect: CommandEffect): Step {
  if (effect.do === "write") return { station, effects: [effect] };
  const { line } = effect;
  if (effect.do === "command-failed") {
    if (line.kind === "lamp" || effect.because === "closed") return only(station);
    return { station, effects: [told(`The board did not answer the command ${said(line)}.`)] };
  }
  if (effect.error !== null) {
    return { station, effects: [told(`The board refused the command ${said(line)}: ${effect.error}.`)] };
  }
  if (line.kind === "gain") return only({ ...station, board: { ...station.board, gain: line.gain } });
  if (line.kind === "rate") return only({ ...station, board: { ...station.board, rate: line.rate } });
  return only(station);
}

const told = (text: string): StationEffect => ({ do: "log", level: "warn", text });

function said(line: { readonly kind: string; readonly gain?: number; readonly rate?: number }): string {
  return line.gain === undefined && line.rate === undefined ? line.kind : `${line.kind} ${line.gain ?? line.rate}`;
}
