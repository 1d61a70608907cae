/**
 * The host's half of the `tm1` conversation: what to say, when to say it again, and when to give up. Pure; `now_ms` is
 * the host's monotonic clock and arrives with every input.
 *
 * - One command is outstanding at a time, the others wait in order; lamp commands are sent at once.
 * - No answer in 1 s: once more under the same number, then `command-failed`. A newer command for a lamp takes the place
 *   of an older one.
 * - After every open: an empty line, `identify`, and the lamps as they should be.
 * - Heartbeat: after 0.7 s without a line one lamp is said again, 1 and 2 in turn. The board needs a line every 2 s; saying
 *   one lamp in each means that a lost lamp line is healed within about 1.5 s, and its answer shows that the board lives
 *   even where the amplifier is silent.
 */
import { encodeHostLine } from "./encode.ts";
import type { HostLine, LampState } from "./lines.ts";

export type HostAsk =
  | { readonly kind: "identify" }
  | { readonly kind: "lamp"; readonly lamp: 1 | 2; readonly to: LampState }
  | { readonly kind: "gain"; readonly gain: 128 | 64 }
  | { readonly kind: "rate"; readonly rate: 10 | 80 };

export type CommandInput = { readonly now_ms: number } & (
  | { readonly kind: "opened" }
  | { readonly kind: "closed" }
  | { readonly kind: "ask"; readonly ask: HostAsk }
  | { readonly kind: "answer"; readonly command: number; readonly error: string | null }
  | { readonly kind: "tick" }
);

export type CommandEffect =
  /** Whole lines with their LF, to be written as they are. */
  | { readonly do: "write"; readonly text: string }
  /** `error` null: done. */
  | { readonly do: "command-answered"; readonly line: HostLine; readonly error: string | null }
  | { readonly do: "command-failed"; readonly line: HostLine; readonly because: "no-answer" | "closed" };

export interface Commands {
  readonly open: boolean;
  /** The number of the last command, 1..65535; goes on over opens, so that no late answer fits a new command. */
  readonly last_command: number;
  readonly queue: readonly HostAsk[];
  /** Sent and not answered: at most one that is not a lamp, and at most one for each lamp. */
  readonly sent: readonly Sent[];
  readonly lamps: Readonly<Record<1 | 2, LampState>>;
  readonly spoke_at_ms: number;
  /** The lamp whose turn the next heartbeat is. */
  readonly next_lamp: 1 | 2;
}

interface Sent {
  readonly line: HostLine;
  readonly at_ms: number;
  readonly again: boolean;
}

export interface CommandStep {
  readonly state: Commands;
  readonly effects: readonly CommandEffect[];
}

export const ANSWER_WITHIN_MS = 1000;
export const HEARTBEAT_MS = 700;
const LAST_COMMAND = 0xffff;

export const NO_COMMANDS: Commands = {
  open: false,
  last_command: 0,
  queue: [],
  sent: [],
  lamps: { 1: "off", 2: "off" },
  spoke_at_ms: 0,
  next_lamp: 1,
};

export function stepCommands(state: Commands, input: CommandInput): CommandStep {
  switch (input.kind) {
    case "opened":
      return opened(state, input.now_ms);
    case "closed":
      return closed(state);
    case "ask":
      return asked(state, input.ask, input.now_ms);
    case "answer":
      return answered(state, input.command, input.error, input.now_ms);
    case "tick":
      return state.open ? heartbeat(overdue(state, input.now_ms), input.now_ms) : { state, effects: [] };
  }
}

function opened(state: Commands, now_ms: number): CommandStep {
  const clean: Commands = { ...state, open: true, queue: [{ kind: "identify" }], sent: [], spoke_at_ms: now_ms };
  let step: CommandStep = { state: clean, effects: [{ do: "write", text: "\n" }] };
  step = sendNext(step, now_ms);
  for (const lamp of [1, 2] as const) step = send(step, { kind: "lamp", lamp, to: state.lamps[lamp] }, now_ms);
  return step;
}

/** Whoever waits for an answer is told; lamps are said again after the next open. */
function closed(state: Commands): CommandStep {
  const waiting = state.sent.map(({ line }) => line).filter((line) => line.kind !== "lamp");
  const queued = state.queue.map((ask): HostLine => numbered(ask, 0));
  return {
    state: { ...state, open: false, queue: [], sent: [] },
    effects: [...waiting, ...queued].map((line) => ({ do: "command-failed", line, because: "closed" })),
  };
}

function asked(state: Commands, ask: HostAsk, now_ms: number): CommandStep {
  if (ask.kind === "lamp") {
    const lamps = { ...state.lamps, [ask.lamp]: ask.to };
    const step: CommandStep = { state: { ...state, lamps }, effects: [] };
    return state.open ? send(step, ask, now_ms) : step;
  }
  if (!state.open) return { state, effects: [{ do: "command-failed", line: numbered(ask, 0), because: "closed" }] };
  const already = ask.kind === "identify" && state.queue.some((queued) => queued.kind === "identify");
  if (already || isOutstanding(state, ask.kind)) return { state, effects: [] };
  return sendNext({ state: { ...state, queue: [...state.queue, ask] }, effects: [] }, now_ms);
}

/** An identify under way answers this one too; a gain or a rate may be another, so it waits its turn. */
function isOutstanding(state: Commands, kind: HostAsk["kind"]): boolean {
  return kind === "identify" && state.sent.some(({ line }) => line.kind === "identify");
}

function answered(state: Commands, command: number, error: string | null, now_ms: number): CommandStep {
  const found = state.sent.find(({ line }) => line.command === command);
  // A second answer, after the line was said twice.
  if (found === undefined) return { state, effects: [] };
  const sent = state.sent.filter((other) => other !== found);
  return sendNext(
    { state: { ...state, sent }, effects: [{ do: "command-answered", line: found.line, error }] },
    now_ms,
  );
}

function overdue(state: Commands, now_ms: number): CommandStep {
  let step: CommandStep = { state: { ...state, sent: [] }, effects: [] };
  for (const sent of state.sent) {
    if (now_ms - sent.at_ms < ANSWER_WITHIN_MS) {
      step = { ...step, state: { ...step.state, sent: [...step.state.sent, sent] } };
    } else if (!sent.again) {
      step = write(step, { line: sent.line, at_ms: now_ms, again: true });
    } else {
      const effect: CommandEffect = { do: "command-failed", line: sent.line, because: "no-answer" };
      step = { ...step, effects: [...step.effects, effect] };
    }
  }
  return sendNext(step, now_ms);
}

function heartbeat(step: CommandStep, now_ms: number): CommandStep {
  if (now_ms - step.state.spoke_at_ms < HEARTBEAT_MS) return step;
  const lamp = step.state.next_lamp;
  const said = send(step, { kind: "lamp", lamp, to: step.state.lamps[lamp] }, now_ms);
  return { ...said, state: { ...said.state, next_lamp: lamp === 1 ? 2 : 1 } };
}

/** The next in the queue, if nothing but lamps is outstanding. */
function sendNext(step: CommandStep, now_ms: number): CommandStep {
  const [next, ...rest] = step.state.queue;
  if (next === undefined || step.state.sent.some(({ line }) => line.kind !== "lamp")) return step;
  return send({ ...step, state: { ...step.state, queue: rest } }, next, now_ms);
}

function send(step: CommandStep, ask: HostAsk, now_ms: number): CommandStep {
  const command = step.state.last_command === LAST_COMMAND ? 1 : step.state.last_command + 1;
  const line = numbered(ask, command);
  const sent = step.state.sent.filter((other) => !isSameLamp(other.line, line));
  return write(
    { ...step, state: { ...step.state, last_command: command, sent } },
    { line, at_ms: now_ms, again: false },
  );
}

const isSameLamp = (a: HostLine, b: HostLine): boolean => a.kind === "lamp" && b.kind === "lamp" && a.lamp === b.lamp;

const numbered = (ask: HostAsk, command: number): HostLine => ({ ...ask, command });

function write({ state, effects }: CommandStep, sent: Sent): CommandStep {
  return {
    state: { ...state, sent: [...state.sent, sent], spoke_at_ms: sent.at_ms },
    effects: [...effects, { do: "write", text: `${encodeHostLine(sent.line)}\n` }],
  };
}
