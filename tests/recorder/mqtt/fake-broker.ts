/**
 * A small broker on loopback that misbehaves on request: MQTT 3.1.1 and 5, by mqtt-packet. It keeps every publish it
 * was sent, as bytes, and answers what the test says. It forwards nothing.
 */
import { once } from "node:events";
import { type AddressInfo, createServer, type Socket } from "node:net";
import { generate, type IConnectPacket, type IPublishPacket, type Packet, parser } from "mqtt-packet";

/** A number is an MQTT 5 reason code; that of a DISCONNECT comes instead of an answer, and ends the connection. */
export type Reply = "ack" | "nothing" | "hang-up" | "wrong id" | "garbage" | number | { readonly disconnect: number };

/** Packet type 0 is forbidden, MQTT 5.0 section 2.1.2. */
const GARBAGE = Buffer.from([0x00, 0x02, 0xff, 0xff]);

export interface Behaviour {
  /** The answer to CONNECT. */
  onConnect?: (packet: IConnectPacket) => "ack" | "nothing" | "hang-up" | number;
  /** The answer to a QoS 1 PUBLISH. */
  onPublish?: (packet: IPublishPacket) => Reply;
  /** The answer for one topic of a SUBSCRIBE: the QoS granted, or 0x80 and more for a refusal. */
  onSubscribe?: (topic: string) => number;
  /** Properties of the CONNACK (MQTT 5). */
  connack?: { receiveMaximum?: number; maximumPacketSize?: number; serverKeepAlive?: number };
}

export class FakeBroker {
  readonly behaviour: Behaviour;
  readonly connects: IConnectPacket[] = [];
  /** When each of them came, by performance.now. */
  readonly connects_ms: number[] = [];
  readonly publishes: IPublishPacket[] = [];
  readonly disconnects: Packet[] = [];
  port = 0;
  pings = 0;
  /** The most QoS 1 publishes that stood unanswered at once. */
  mostUnanswered = 0;
  #unanswered = 0;
  readonly #sockets = new Set<Socket>();
  readonly #server = createServer((socket) => this.#serve(socket));

  constructor(behaviour: Behaviour = {}) {
    this.behaviour = behaviour;
  }

  async start(port = 0): Promise<this> {
    this.#server.listen(port, "127.0.0.1");
    await once(this.#server, "listening");
    this.port = (this.#server.address() as AddressInfo).port;
    return this;
  }

  async stop(): Promise<void> {
    this.dropAll();
    if (!this.#server.listening) return;
    this.#server.close();
    await once(this.#server, "close");
  }

  /** As a cable pull would. */
  dropAll(): void {
    for (const socket of this.#sockets) socket.destroy();
  }

  /** MQTT 5 DISCONNECT with a reason, then the end. */
  disconnectAll(reasonCode: number): void {
    for (const socket of this.#sockets) socket.end(generate({ cmd: "disconnect", reasonCode }, { protocolVersion: 5 }));
  }

  /** Sends a message to whoever is connected, as if it came from a subscription. */
  say(topic: string, payload: string, protocolVersion: 4 | 5): void {
    const packet: IPublishPacket = { cmd: "publish", topic, payload, qos: 0, retain: false, dup: false };
    for (const socket of this.#sockets) socket.write(generate(packet, { protocolVersion }));
  }

  payloads(topic: string): string[] {
    return this.publishes.filter((packet) => packet.topic === topic).map((packet) => packet.payload.toString("utf8"));
  }

  #serve(socket: Socket): void {
    this.#sockets.add(socket);
    socket.on("close", () => this.#sockets.delete(socket));
    socket.on("error", () => {});
    let protocolVersion = 4;
    const parse = parser();
    const write = (packet: Packet): void => {
      if (!socket.destroyed) socket.write(generate(packet, { protocolVersion }));
    };
    parse.on("packet", (packet: Packet) => {
      if (packet.cmd === "connect") {
        this.connects.push(packet);
        this.connects_ms.push(performance.now());
        protocolVersion = packet.protocolVersion ?? 4;
        const reply = this.behaviour.onConnect?.(packet) ?? "ack";
        if (reply === "hang-up") socket.destroy();
        if (reply === "nothing" || reply === "hang-up") return;
        const code = reply === "ack" ? 0 : reply;
        const properties = this.behaviour.connack;
        write({
          cmd: "connack",
          sessionPresent: false,
          ...(protocolVersion === 5 ? { reasonCode: code, ...(properties && { properties }) } : { returnCode: code }),
        });
        if (code !== 0) socket.end();
      } else if (packet.cmd === "publish") {
        this.publishes.push(packet);
        if (packet.qos === 1) this.#answer(packet, socket, write);
      } else if (packet.cmd === "subscribe") {
        const granted = ({ topic }: { topic: string }): number => this.behaviour.onSubscribe?.(topic) ?? 1;
        write({ cmd: "suback", messageId: packet.messageId!, granted: packet.subscriptions.map(granted) });
      } else if (packet.cmd === "pingreq") {
        this.pings += 1;
        write({ cmd: "pingresp" });
      } else if (packet.cmd === "disconnect") {
        this.disconnects.push(packet);
        socket.end();
      }
    });
    socket.on("data", (bytes) => parse.parse(bytes));
  }

  #answer(packet: IPublishPacket, socket: Socket, write: (packet: Packet) => void): void {
    const reply = this.behaviour.onPublish?.(packet) ?? "ack";
    this.#unanswered += 1;
    this.mostUnanswered = Math.max(this.mostUnanswered, this.#unanswered);
    if (reply === "nothing") return;
    // In the next turn, so that what stands unanswered in one turn can be counted.
    setImmediate(() => {
      this.#unanswered -= 1;
      const messageId = packet.messageId!;
      if (reply === "hang-up") socket.destroy();
      else if (reply === "garbage") socket.write(GARBAGE);
      else if (reply === "wrong id") write({ cmd: "puback", messageId: messageId + 1000, reasonCode: 0 });
      else if (typeof reply === "object") {
        socket.end(generate({ cmd: "disconnect", reasonCode: reply.disconnect }, { protocolVersion: 5 }));
      } else write({ cmd: "puback", messageId, reasonCode: reply === "ack" ? 0 : reply });
    });
  }
}
