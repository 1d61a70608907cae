/** What goes back to the board: lamps and commands. A board of the `bare` dialect has neither. */
import {
  type CommandEffect,
  type CommandInput,
  type HostAsk,
  stepCommands,
} from "../../protocol/serial-line/commands.ts";
import { type LampInput, stepLamps } from "../../protocol/serial-line/lamps.ts";
import type { HostLine } from "../../protocol/serial-line/lines.ts";
import type { Now, StationEffect } from "./exchange.ts";
import { withLampAnswer } from "./self-test-state.ts";
import { andThen, only, type Station, type Step } from "./state.ts";

/** A lamp input, through to the lines it makes. */
export function showLamp(station: Station, input: LampInput, now_ms: number): Step {
  const { state, asks } = stepLamps(station.lamps, input);
  const shown = state === station.lamps ? station : { ...station, lamps: state };
  return asks.reduce((step, ask) => andThen(step, (next) => askBoard(next, ask, now_ms)), only(shown));
}

/** Three short blinks for whoever pressed a key or held up a tag, and the reason for whoever reads the log. */
export function refuseAtMachine(station: Station, why: string, now: Now): Step {
  return andThen(showLamp(station, { kind: "play", pattern: "refused", now_ms: now.ms }, now.ms), (next) => ({
    station: next,
    effects: [{ do: "log", level: "info", text: `Refused at the machine: ${why}` }],
  }));
}

export const askBoard = (station: Station, ask: HostAsk, now_ms: number): Step =>
  tellCommands(station, { kind: "ask", ask, now_ms });

export function tellCommands(station: Station, input: CommandInput): Step {
  if (station.configuration.dialect === "bare") return only(station);
  const { state, effects } = stepCommands(station.commands, input);
  if (state === station.commands && effects.length === 0) return only(station);
  return effects.reduce<Step>(
    (step, effect) => andThen(step, (next) => carry(next, effect, input.now_ms)),
    only({ ...station, commands: state }),
  );
}

/** How long a board that did not take a setting is left alone. */
export const ASK_AGAIN_MS = 10_000;

function carry(station: Station, effect: CommandEffect, now_ms: number): Step {
  if (effect.do === "write") return { station, effects: [effect] };
  const { line } = effect;
  if (effect.do === "command-failed") {
    if (line.kind === "lamp" || effect.because === "closed") return only(station);
    return failed(station, line, `The board did not answer the command ${said(line)}.`, now_ms);
  }
  if (effect.error !== null) {
    return failed(station, line, `The board refused the command ${said(line)}: ${effect.error}.`, now_ms);
  }
  const { self_test } = station;
  if (line.kind === "lamp" && self_test !== null) {
    return only({ ...station, self_test: withLampAnswer(self_test, line.lamp, now_ms) });
  }
  if (line.kind === "gain") return only({ ...station, board: { ...station.board, gain: line.gain } });
  if (line.kind === "rate") return only({ ...station, board: { ...station.board, rate: line.rate } });
  return only(station);
}

/** A board that is set otherwise than the station wants does not measure what the station takes it for. */
function failed(station: Station, line: HostLine, why: string, now_ms: number): Step {
  const effects: StationEffect[] = [{ do: "log", level: "warn", text: why }];
  if (line.kind === "identify") {
    const known = station.board.hello !== null && station.line.mode !== "doubt";
    // It is asked again and again; once is enough to say.
    if (known || station.board.unnamed !== null) return only(station);
    const unnamed = `${why.slice(0, -1)}, so nobody knows who it is: look at its firmware, or at the wire to the board.`;
    return { station: { ...station, board: { ...station.board, unnamed } }, effects };
  }
  if (line.kind !== "gain" && line.kind !== "rate") return { station, effects };
  const hint = "give the station the setting the board is wired for, or look at the board.";
  const unset = { why: `${why.slice(0, -1)}: ${hint}`, again_at_ms: now_ms + ASK_AGAIN_MS };
  return { station: { ...station, board: { ...station.board, unset } }, effects };
}

function said(line: { readonly kind: string; readonly gain?: number; readonly rate?: number }): string {
  return line.gain === undefined && line.rate === undefined ? line.kind : `${line.kind} ${line.gain ?? line.rate}`;
}
