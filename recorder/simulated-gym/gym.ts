/**
 * The running gym: holds the state of its simulated stations between one stretch of device time and the next.
 *
 * It has no clock of its own; whoever reads its bytes (binding.ts) says how far to go. What a person does at a station
 * (sitting down, pressing a key, pulling the plug) happens at the station's present moment.
 */
import * as simulated from "./station.ts";
import type { Trainee } from "./trainee.ts";

export class RunningStation {
  readonly id: string;
  readonly #model: simulated.SimulatedStation;
  readonly #seed: number;
  readonly #passing: ((elapsed_s: number) => void)[] = [];
  readonly #observing: ((truth: simulated.Truth) => void)[] = [];
  #state: simulated.StationState;
  #out: string;
  #truth: simulated.Truth | null = null;
  #plugged = true;
  #reader: ((why: Error) => void) | null = null;

  constructor(model: simulated.SimulatedStation, seed: number) {
    const step = simulated.powerUp(model, seed);
    this.id = model.id;
    this.#model = model;
    this.#seed = seed;
    this.#state = step.state;
    this.#out = step.out;
  }

  /** Device time since power-up, us. */
  get now_us(): number {
    return this.#state.now_us;
  }

  /** Device time since power-up, s. */
  get elapsed_s(): number {
    return this.#state.now_us / 1e6;
  }

  /** When the next conversion is ready, us since power-up. */
  get due_us(): number {
    return this.#state.due_us;
  }

  /** What really was at the newest conversion; null before the first. */
  get truth(): simulated.Truth | null {
    return this.#truth;
  }

  /** Calls back after every stretch of device time. */
  onTime(passed: (elapsed_s: number) => void): void {
    this.#passing.push(passed);
  }

  /** Calls back with the truth of every conversion. */
  onTruth(observed: (truth: simulated.Truth) => void): void {
    this.#observing.push(observed);
  }

  /** Goes on to `until_us` since power-up, with all conversions due by then. */
  run(until_us: number): void {
    while (this.#state.due_us <= until_us) {
      const step = simulated.next(this.#model, this.#state, this.#seed);
      this.#carry(step);
      this.#truth = step.truth;
      for (const observed of this.#observing) observed(step.truth);
    }
    this.#state = simulated.wait(this.#state, Math.floor(until_us));
    for (const passed of this.#passing) passed(this.elapsed_s);
  }

  /** The bytes the board has sent since the last call. */
  take(): string {
    const out = this.#out;
    this.#out = "";
    return out;
  }

  hear(text: string): void {
    this.#carry(simulated.hear(this.#model, this.#state, text, this.#seed));
  }

  press(key: number): void {
    this.#carry(simulated.press(this.#model, this.#state, key, this.#seed));
  }

  present(tag: string): void {
    this.#carry(simulated.present(this.#model, this.#state, tag, this.#seed));
  }

  sit(trainee: Trainee | null): void {
    this.#state = simulated.sit(this.#state, trainee);
  }

  restart(after: "power-up" | "brownout" | "watchdog"): void {
    this.#carry(simulated.restart(this.#model, this.#state, after, this.#seed));
  }

  amplifier(is: simulated.StationState["amplifier"]): void {
    this.#state = { ...this.#state, amplifier: is };
  }

  /** One reader at a time; `gone` is called when the plug is pulled. Answers why not, or null. */
  attach(gone: (why: Error) => void): Error | null {
    if (!this.#plugged) return new Error(`simulated:${this.id} is not there: nothing is plugged in`);
    if (this.#reader !== null) return new Error(`simulated:${this.id} is busy: it is already open`);
    this.#reader = gone;
    return null;
  }

  detach(): void {
    this.#reader = null;
  }

  /** Pulls the plug: whoever reads is told, and nobody can open it until it is plugged in again. */
  unplug(): void {
    const reader = this.#reader;
    this.#plugged = false;
    this.#reader = null;
    reader?.(new Error(`simulated:${this.id} was unplugged`));
  }

  /** Plugged in again, the board starts anew. */
  plug(): void {
    if (this.#plugged) return;
    this.#plugged = true;
    this.#out = "";
    this.restart("power-up");
  }

  #carry(step: simulated.StationStep): void {
    this.#state = step.state;
    this.#out += step.out;
  }
}

export class SimulatedGym {
  readonly #stations: ReadonlyMap<string, RunningStation>;

  constructor(models: readonly simulated.SimulatedStation[], seed: number) {
    this.#stations = new Map(
      models.map((model, index) => [model.id, new RunningStation(model, (seed + index * 7919) | 0)]),
    );
  }

  get stations(): readonly RunningStation[] {
    return [...this.#stations.values()];
  }

  station(id: string): RunningStation {
    const station = this.#stations.get(id);
    if (station === undefined) throw new Error(`the simulated gym has no station "${id}"`);
    return station;
  }
}
