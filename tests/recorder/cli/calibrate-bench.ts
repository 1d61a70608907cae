/**
 * A technician at a fake terminal, in front of a recorder whose simulated rig has on it what they were told to hang. Every
 * question they are asked must be one that the test has an answer for.
 */
import { runCli } from "../../../recorder/cli/cli.ts";
import type { Configuration } from "../../../recorder/configuration/schema.ts";
import { JOINT_REGIONS } from "../../../recorder/simulated-gym/fatigue.ts";
import { trainee } from "../../../recorder/simulated-gym/trainees.ts";
import { type GymService, startGym } from "../run/gym-service.ts";
import { placed } from "../run/place.ts";
import { type FakeTerminal, fakeTerminal } from "./fake-terminal.ts";

export const STATION = "knee-extension";
/** WGS84 normal gravity at 52 degrees and sea level, less the air's buoyancy, N of a kilogram. */
export const N_PER_KG = 9.81247 * (1 - 1.5e-4);

export interface Bench {
  readonly gym: GymService;
  readonly configuration: Configuration;
  /** Puts a dead weight on the grip, N. */
  readonly put: (force_N: number) => void;
  /** Once the recorder shows about so much, N: what the line held from before is read then. By no scale it is not waited for. */
  readonly shows: (force_N: number) => Promise<void>;
  readonly kept: () => Promise<KeptNow>;
  /** Whether a procedure could begin here; it is left again. */
  readonly free: () => Promise<boolean>;
}

export interface KeptNow {
  readonly in_force: string | null;
  readonly due: string | null;
  readonly calibrations: readonly { readonly calibration_id: string; readonly counts_per_N: number }[];
  readonly checks: readonly { readonly check_id: string; readonly checks: readonly object[] }[];
}

/** `prepare`: with the record that the rig was calibrated with some days ago. */
export async function arrive(prepare = true): Promise<Bench> {
  const whole = placed();
  const configuration = { ...whole, station: whole.station.filter(({ id }) => id === STATION) };
  const gym = await startGym(configuration, prepare);
  await gym.next(({ topic, station }) => topic === "live" && station === STATION);
  const put = (force_N: number): void => {
    const dead = { tremor: 0, wavering: 0, resting_force_N: force_N };
    const plate = trainee("plate", 1, JOINT_REGIONS.knee, { style: "hold" }, dead);
    gym.gym.station(STATION).sit(force_N === 0 ? null : plate);
  };
  return {
    gym,
    configuration,
    put,
    async shows(force_N) {
      let heard = 0;
      await gym.next(({ topic, station, message }) => {
        if (topic !== "live" || station !== STATION) return false;
        heard += 1;
        const read_N = (message as { force_N?: number | null }).force_N ?? null;
        // A record may be a little off, or of other wires: then half a minute of the board's time will do.
        return read_N === null || Math.abs(read_N - force_N) < 10 + 0.15 * force_N || heard > 300;
      });
    },
    async kept() {
      const answer = await gym.ask("calibrations", { station: STATION });
      return (answer as { result: KeptNow }).result;
    },
    async free() {
      const begun = await gym.ask("calibration-begin", { station: STATION });
      if (begun.ok) await gym.ask("calibration-abandon", { station: STATION });
      return begun.ok;
    },
  };
}

/** What somebody does where they are asked: types a line, hangs up (null), breaks it off, or does something first. */
export type Move = string | null | typeof CTRL_C | typeof WAIT | ((terminal: FakeTerminal) => string);
export const CTRL_C = Symbol("Ctrl-C");
/** Nothing, until the test says more. */
export const WAIT = Symbol("wait");

export interface Visitor {
  /** By a piece of the question or the instruction; several moves are for the first, second... time, the last for ever. */
  readonly moves: Readonly<Record<string, Move | readonly Move[]>>;
  /** What a kilogram said is on the grip, kg; absent: as said. */
  readonly honest?: (kg: number) => number;
  readonly columns?: number;
  /** Looks on at everything that is said or drawn. */
  readonly onSaid?: (text: string, terminal: FakeTerminal) => void;
  readonly words?: readonly string[];
}

export interface Visited {
  readonly exit: number;
  readonly said: readonly string[];
  readonly text: string;
  readonly error: string;
  readonly terminal: FakeTerminal;
}

/** What an instruction wants on the grip, kg; null: it says nothing of loads. */
function wanted_kg(instruction: string): number | null {
  const hung = /(?:Hang|come down to) ([\d.]+) kg(?! and take)/.exec(instruction);
  if (hung !== null) return Number(hung[1]);
  return /nothing on|everything off/i.test(instruction) ? 0 : null;
}

async function hangOneByOne(bench: Bench, forces_N: readonly number[]): Promise<void> {
  for (const force_N of forces_N) {
    bench.put(force_N);
    await bench.shows(force_N);
  }
}

export async function visit(bench: Bench, visitor: Visitor): Promise<Visited> {
  const { moves, honest = (kg) => kg, words = [], onSaid = () => {} } = visitor;
  const terminal = fakeTerminal(visitor.columns ?? null);
  const asked = new Map<string, number>();
  let instruction = "";

  function moveFor(question: string): Move {
    const name = Object.keys(moves).find((piece) => question.includes(piece));
    if (name === undefined) throw new Error(`nobody knows what to do at: ${question}`);
    const times = asked.get(name) ?? 0;
    asked.set(name, times + 1);
    const known = moves[name];
    const list = Array.isArray(known) ? (known as readonly Move[]) : [known as Move];
    return list[Math.min(times, list.length - 1)] ?? null;
  }
  function make(move: Move): void {
    if (move === WAIT) return;
    if (move === CTRL_C) return void setImmediate(terminal.interrupt);
    if (move === null) return void terminal.typed.end();
    terminal.typed.write(`${typeof move === "function" ? move(terminal) : move}\n`);
  }
  const write = (text: string): void => {
    terminal.write(text);
    onSaid(text, terminal);
  };
  const out = (text: string): void => {
    terminal.out(text);
    onSaid(text, terminal);
    const plain = text.replaceAll(/\s+/g, " ").trim();
    if (text.startsWith("Press Enter")) {
      const kg = wanted_kg(instruction);
      const known = Object.keys(moves).some((piece) => instruction.includes(piece));
      const move = known ? moveFor(instruction) : "";
      if (kg === null) make(move);
      else {
        const hung_N = honest(kg) * N_PER_KG;
        // To come down to a load there must have been more.
        const before_N = instruction.includes("come down to") ? [1.5 * hung_N] : [];
        void hangOneByOne(bench, [...before_N, hung_N]).then(() => make(move));
      }
      return;
    }
    instruction = plain;
    if (/\?( |$)/.test(plain)) make(moveFor(plain));
  };
  const socket = bench.configuration.control.service_socket;
  const exit = await runCli(["calibrate", STATION, ...words, "--socket", socket], { ...terminal, out, write });
  return { exit, said: terminal.said, text: terminal.said.join("\n"), error: terminal.complained.join("\n"), terminal };
}
