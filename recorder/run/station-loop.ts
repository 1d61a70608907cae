/**
 * The loop of one station: the next input, one pure step, and its effects carried out in one order.
 *
 * Signal first (lamps, state, then live values and answers), then what must be kept. Nothing here waits: the stop never waits for
 * storage. Announcing a set as kept follows from the store's commit, not from here. The file to read first in this room.
 */
import type { Outcome } from "../../protocol/requests/response.ts";
import { type Checkpoint, checkpointKept, nextCheckpoint } from "../station/checkpoint.ts";
import { type Ask, isSignal, type Now, type StationEffect, type StationInput } from "../station/exchange.ts";
import { inOrder } from "../station/order.ts";
import type { Station } from "../station/state.ts";
import { stepStation } from "../station/station.ts";

type Signal = Extract<StationEffect, { do: "write" | "publish" | "dispatch" | "look-up-tag" | "expect-period" }>;
type Keeping = Exclude<StationEffect, Signal | { do: "answer" }>;

export interface StationPorts {
  now(): Now;
  signal(effect: Signal, now: Now): void;
  keep(effect: Keeping): void;
}

export class StationLoop {
  readonly id: string;
  readonly #ports: StationPorts;
  readonly #waiting = new Map<string, (outcome: Outcome) => void>();
  readonly #inputs: StationInput[] = [];
  #station: Station;
  #asked = 0;

  constructor(station: Station, ports: StationPorts) {
    this.id = station.configuration.id;
    this.#station = station;
    this.#ports = ports;
  }

  get station(): Station {
    return this.#station;
  }

  /** An input that comes of an effect waits its turn: the effects of one step are done before the next step's. */
  take(input: StationInput): void {
    this.#inputs.push(input);
    if (this.#inputs.length > 1) return;
    try {
      for (let next = this.#inputs[0]; next !== undefined; next = this.#inputs[0]) {
        this.#step(next);
        this.#inputs.shift();
      }
    } finally {
      this.#inputs.length = 0;
    }
  }

  #step(input: StationInput): void {
    const now = this.#ports.now();
    const { station, effects } = stepStation(this.#station, input, now);
    this.#station = station;
    if (effects.length === 0) return;
    for (const effect of inOrder(effects)) {
      if (isSignal(effect)) this.#signal(effect, now);
      else this.#ports.keep(effect as Keeping);
    }
  }

  /** Asks, and resolves with the answer. `input` is told the request as it will be answered. */
  ask(asked: Omit<Ask, "request_id">, input: (ask: Ask) => StationInput): Promise<Outcome> {
    this.#asked += 1;
    // Our own number: two doors may use the same request id.
    const request_id = `${this.id}-${this.#asked}`;
    return new Promise((resolve) => {
      this.#waiting.set(request_id, resolve);
      this.take(input({ ...asked, request_id }));
    });
  }

  /** The answer to a request that waited for the store. */
  answer(request_id: string, outcome: Outcome): void {
    this.#waiting.get(request_id)?.(outcome);
    this.#waiting.delete(request_id);
  }

  checkpoint(): Checkpoint | null {
    return nextCheckpoint(this.#station);
  }

  checkpointKept(checkpoint: Checkpoint): void {
    this.#station = checkpointKept(this.#station, checkpoint);
  }

  #signal(effect: StationEffect, now: Now): void {
    if (effect.do === "answer") this.answer(effect.request_id, effect.outcome);
    else this.#ports.signal(effect as Signal, now);
  }
}
