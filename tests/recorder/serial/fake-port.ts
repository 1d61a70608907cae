/** A port in memory, and an opener to script: what a link meets, without a device. */
import { Duplex } from "node:stream";
import type { OpenPort } from "../../../recorder/serial/link.ts";

export class FakePort extends Duplex {
  /** All that was written to it, as latin1. */
  heard = "";
  #takes = true;

  override _read(): void {}

  override _write(chunk: Buffer, _encoding: BufferEncoding, done: (error?: Error | null) => void): void {
    if (!this.#takes) return;
    this.heard += chunk.toString("latin1");
    done();
  }

  /** The board says something; LF included. */
  say(text: string | Buffer): void {
    this.push(typeof text === "string" ? Buffer.from(text, "latin1") : text);
  }

  /** Writes pile up from now on. */
  stopTaking(): void {
    this.#takes = false;
  }

  /** The cable is pulled: what serialport shows as `close` with an error. */
  unplug(reason: string): void {
    this.emit("close", new Error(reason));
  }
}

export type Opening = "port" | "never" | Error;

export interface FakeOpener {
  readonly open: OpenPort;
  readonly paths: readonly string[];
  readonly ports: readonly FakePort[];
  /** What the next opens meet, in order; a port where nothing is left. */
  next(...openings: Opening[]): void;
  /** Lets an open that never ended end after all. */
  release(): void;
}

export function fakeOpener(): FakeOpener {
  const paths: string[] = [];
  const ports: FakePort[] = [];
  const openings: Opening[] = [];
  let release = (): void => {};
  const makePort = (): FakePort => {
    const port = new FakePort();
    ports.push(port);
    return port;
  };
  return {
    paths,
    ports,
    next: (...more) => void openings.push(...more),
    release: () => release(),
    open(path) {
      paths.push(path);
      const opening = openings.shift() ?? "port";
      if (opening === "port") return Promise.resolve(makePort());
      if (opening !== "never") return Promise.reject(opening);
      return new Promise((resolve) => {
        release = () => resolve(makePort());
      });
    },
  };
}
