/** The stations at work: a loop and a line each, ticked together. */
import type { Configuration } from "../configuration/schema.ts";
import type { Link, OpenPort } from "../serial/link.ts";
import type { Now, StationEffect } from "../station/exchange.ts";
import { boardHomes, newStation } from "../station/state.ts";
import type { Publisher } from "./publisher.ts";
import { linkOf } from "./station-link.ts";
import { StationLoop } from "./station-loop.ts";

type AtMachine = Extract<StationEffect, { do: "dispatch" | "look-up-tag" }>;

export interface FloorPorts {
  readonly now: () => Now;
  readonly publisher: Pick<Publisher, "publish">;
  /** A key or a tag at the machine. */
  readonly atMachine: (loop: StationLoop, effect: AtMachine) => void;
  readonly keep: (loop: StationLoop, effect: StationEffect) => void;
}

export class Floor {
  readonly loops: ReadonlyMap<string, StationLoop>;
  readonly #stations: Configuration["station"];
  readonly #links = new Map<string, Link>();

  constructor(stations: Configuration["station"], simulated: boolean, ports: FloorPorts) {
    const { now, publisher } = ports;
    const homes = boardHomes(stations);
    const loops = new Map<string, StationLoop>();
    for (const station of stations) {
      const { id } = station;
      const loop: StationLoop = new StationLoop(newStation(station, simulated, homes), {
        now,
        signal: (effect, at) => {
          if (effect.do === "publish") publisher.publish(id, effect.topic, effect.body, at);
          else if (effect.do === "write") this.#links.get(id)?.write(effect.text);
          else if (effect.do === "expect-period") this.#links.get(id)?.expectPeriod(effect.period_s);
          else ports.atMachine(loop, effect);
        },
        keep: (effect) => ports.keep(loop, effect),
      });
      loops.set(id, loop);
    }
    this.#stations = stations;
    this.loops = loops;
  }

  all(take: (loop: StationLoop) => void): void {
    for (const loop of this.loops.values()) take(loop);
  }

  /** Nobody's set is armed or runs. */
  get atRest(): boolean {
    return [...this.loops.values()].every(({ station }) => station.set === null);
  }

  openLines(openPort: OpenPort | undefined): void {
    for (const { id, serial_port } of this.#stations) {
      const loop = this.loops.get(id);
      if (loop !== undefined) this.#links.set(id, linkOf(loop, serial_port, openPort));
    }
  }

  async closeLines(): Promise<void> {
    await Promise.all([...this.#links.values()].map((link) => link.close()));
  }
}
