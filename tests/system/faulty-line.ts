/**
 * A line to a broker that can be spoilt while it is in use. What it holds back it keeps, as a network does under TCP: it
 * arrives once the line is well again, if anybody is still there to take it.
 */
import { once } from "node:events";
import { type AddressInfo, connect, createServer, type Socket } from "node:net";

export type Fault =
  | "none"
  /** Accepts, and lets nothing through: no byte and no end. */
  | "black hole"
  | "only towards the broker"
  | "only towards us"
  /** 20 kB/s, each way. */
  | "slow"
  | "no PUBACK"
  /** Breaks off in the middle of each long packet of ours. */
  | "cut in a packet"
  | "refuses";

interface Way {
  readonly from: Socket;
  readonly to: Socket;
  readonly outward: boolean;
  held: Buffer;
  ended: boolean;
}

const EVERY_MS = 5;
const SLOW_BYTES = 100;
const LONG_BYTES = 1000;
/** MQTT 5.0 section 2.1.2: the packet type is in the upper half of the first byte. */
const PUBACK = 4;

export class FaultyLine {
  port = 0;
  /** Connections that were accepted so far. */
  accepted = 0;
  #fault: Fault = "none";
  readonly #to: number;
  readonly #ways = new Set<Way>();
  readonly #server = createServer((socket) => this.#carry(socket));
  #ticking: NodeJS.Timeout | undefined;

  /** `to`: the broker's port on loopback. */
  constructor(to: number) {
    this.#to = to;
  }

  async start(): Promise<this> {
    await this.#listen();
    this.#ticking = setInterval(() => this.#pump(), EVERY_MS);
    return this;
  }

  async set(fault: Fault): Promise<void> {
    if (fault === "refuses") await this.#close();
    else if (!this.#server.listening) await this.#listen();
    this.#fault = fault;
    this.#pump();
  }

  async stop(): Promise<void> {
    clearInterval(this.#ticking);
    await this.#close();
  }

  async #listen(): Promise<void> {
    this.#server.listen(this.port, "127.0.0.1");
    await once(this.#server, "listening");
    this.port = (this.#server.address() as AddressInfo).port;
  }

  async #close(): Promise<void> {
    for (const way of this.#ways) this.#break(way);
    if (!this.#server.listening) return;
    this.#server.close();
    await once(this.#server, "close");
  }

  #carry(ours: Socket): void {
    this.accepted += 1;
    const theirs = connect(this.#to, "127.0.0.1");
    for (const outward of [true, false]) {
      const [from, to] = outward ? [ours, theirs] : [theirs, ours];
      const way: Way = { from, to, outward, held: Buffer.alloc(0), ended: false };
      this.#ways.add(way);
      from.on("data", (bytes) => {
        way.held = Buffer.concat([way.held, bytes]);
        if (this.#fault !== "slow") this.#pump();
      });
      from.on("error", () => {});
      from.on("close", () => {
        way.ended = true;
        this.#pump();
      });
    }
  }

  #pump(): void {
    for (const way of this.#ways) {
      if (this.#isShut(way)) continue;
      if (this.#fault === "no PUBACK" || this.#fault === "cut in a packet") this.#byPacket(way);
      else this.#pass(way, this.#fault === "slow" ? SLOW_BYTES : way.held.length);
      if (!way.ended || way.held.length > 0) continue;
      way.to.end();
      this.#ways.delete(way);
    }
  }

  #isShut({ outward }: Way): boolean {
    if (this.#fault === "black hole") return true;
    return this.#fault === (outward ? "only towards us" : "only towards the broker");
  }

  #byPacket(way: Way): void {
    for (let length = packetLength(way.held); length > 0; length = packetLength(way.held)) {
      const isPuback = (way.held[0] ?? 0) >> 4 === PUBACK;
      if (this.#fault === "no PUBACK" && !way.outward && isPuback) {
        way.held = way.held.subarray(length);
      } else if (this.#fault === "cut in a packet" && way.outward && length > LONG_BYTES) {
        this.#pass(way, length / 2);
        this.#break(way);
      } else {
        this.#pass(way, length);
      }
    }
  }

  #pass(way: Way, bytes: number): void {
    if (way.held.length > 0 && !way.to.destroyed) way.to.write(way.held.subarray(0, bytes));
    way.held = way.held.subarray(bytes);
  }

  #break(way: Way): void {
    way.held = Buffer.alloc(0);
    way.from.destroy();
    way.to.end(() => way.to.destroy());
    this.#ways.delete(way);
  }
}

/** Of the packet that `bytes` begin with, by MQTT 5.0 section 2.1.4; 0: it is not all there yet. */
function packetLength(bytes: Buffer): number {
  let length = 0;
  for (let at = 1; at < Math.min(bytes.length, 5); at += 1) {
    const byte = bytes[at] ?? 0;
    length += (byte & 0x7f) * 128 ** (at - 1);
    if (byte < 0x80) return bytes.length >= at + 1 + length ? at + 1 + length : 0;
  }
  return 0;
}
