/**
 * One connection to a broker, from dialling to its end; the next one is a new one. Nothing the client library would
 * carry over (queues, packets in flight, its own fixed retry) outlives it: what must last is in the store, and what is
 * retained is published anew. When to dial again is `bus.ts`'s decision.
 */
import { Socket } from "node:net";
import { checkServerIdentity, type PeerCertificate } from "node:tls";
import { connect, type ErrorWithReasonCode, type IClientOptions, type MqttClient } from "mqtt";
import type { BrokerAddress, Secrets } from "./broker-address.ts";
import { type Ending, REASON } from "./trouble.ts";

/** What the broker said to a QoS 1 publish. `code` null: nothing; if it was `sent`, the broker may or may not have it. */
export type Answer =
  | { readonly ok: true }
  | { readonly ok: false; readonly code: number }
  | { readonly ok: false; readonly code: null; readonly sent: boolean };

export const NO_ANSWER: Answer = { ok: false, code: null, sent: false };

export interface ConnectionOptions {
  readonly address: BrokerAddress;
  readonly secrets: Secrets;
  readonly client_id: string;
  readonly will: { readonly topic: string; readonly payload: string };
  readonly keep_alive_s: number;
  readonly connect_ms: number;
  readonly answer_ms: number;
}

export interface ConnectionEvents {
  onUp(): void;
  /** Before `onUp`: the last moment of the broker's certificate, as Node.js writes it. Not where nothing is encrypted. */
  onCertificate(ends: string): void;
  /** `retained`: it stood there before we subscribed, or is to stand there from now on. */
  onMessage(topic: string, payload: Buffer, retained: boolean): void;
  /** Exactly once, and the last that is heard. Not after `close`. */
  onDown(ending: Ending): void;
}

export interface Connection {
  /** QoS 0: handed to the network or dropped, never kept. Says whether it was handed over. */
  send(topic: string, payload: string): boolean;
  /** QoS 1. An answer that does not come in time also ends the connection: nobody is there to trust. */
  publish(topic: string, payload: string, retain: boolean): Promise<Answer>;
  subscribe(topic: string): void;
  /** Without what is retained, as far as the broker's protocol can keep it back. Resolves with the filters it refused. */
  subscribeToPassing(filters: readonly string[]): Promise<readonly string[]>;
  /** Unanswered publishes the broker allows at once. */
  receiveMaximum(): number;
  /** Says goodbye where it can, and is gone after `patience_ms` in any case. */
  close(patience_ms: number): Promise<void>;
}

/** Bytes the network has not taken yet. Beyond this a live value only makes the next ones later. */
const CONGESTED_BYTES = 256 * 1024;

export function openConnection(options: ConnectionOptions, events: ConnectionEvents): Connection {
  const { answer_ms } = options;
  const client = connect(options.address.url, clientOptions(options, events));
  // Small messages must leave at once: without this the kernel holds a stop until the live value before it is confirmed.
  if (client.stream instanceof Socket) client.stream.setNoDelay(true);
  let was_up = false;
  let over = false;
  let code: number | null = null;
  let error: Ending["error"] = null;
  // The library leaves publishes unanswered for ever when the peer goes away, so each is ended by us.
  const unanswered = new Set<() => void>();

  const leave = (): void => {
    over = true;
    for (const giveUp of unanswered) giveUp();
  };
  const finish = (): void => {
    if (over) return;
    leave();
    client.end(true);
    events.onDown({ code, error, was_up });
  };
  client.on("connect", () => {
    was_up = true;
    events.onUp();
  });
  client.on("message", (topic, payload, { retain }) => events.onMessage(topic, payload, retain));
  client.on("disconnect", (packet) => {
    code = packet.reasonCode ?? null;
  });
  client.on("error", (cause: Error & { code?: string | number }) => {
    if (typeof cause.code === "number") code = cause.code;
    else error ??= { code: cause.code, message: cause.message };
    // What cannot be read (mosquitto 2.0.11 gives PUBACK a reason MQTT 5.0 section 3.4.2.1 does not list) leaves the library
    // deaf and connected.
    if (was_up) finish();
  });
  client.on("close", finish);

  return {
    send(topic, payload) {
      if (over || !client.connected || client.stream.writableLength > CONGESTED_BYTES) return false;
      client.publish(topic, payload, { qos: 0 });
      leaveAtOnce(client);
      return true;
    },
    publish(topic, payload, retain) {
      if (over || !client.connected) return Promise.resolve(NO_ANSWER);
      const largest = client.serverProperties?.maximumPacketSize ?? options.address.packet_bytes;
      if (largest !== undefined && Buffer.byteLength(topic) + Buffer.byteLength(payload) + PACKET_HEAD > largest) {
        return Promise.resolve({ ok: false, code: REASON.packet_too_large });
      }
      return new Promise((resolve) => {
        const settle = (answer: Answer): void => {
          clearTimeout(timer);
          unanswered.delete(giveUp);
          resolve(answer);
        };
        const giveUp = (): void => settle({ ok: false, code: null, sent: true });
        const timer = setTimeout(() => {
          error = { message: `no answer to a message within ${answer_ms / 1000} s` };
          finish();
        }, answer_ms);
        unanswered.add(giveUp);
        client.publish(topic, payload, { qos: 1, retain }, (cause) => {
          const refusal = (cause as Partial<ErrorWithReasonCode> | undefined)?.code;
          if (cause && typeof refusal !== "number") return giveUp();
          settle(typeof refusal === "number" ? { ok: false, code: refusal } : { ok: true });
        });
        leaveAtOnce(client);
      });
    },
    subscribe(topic) {
      // A broker that does not let us read this is no trouble: it only cannot tell us when somebody overwrites it.
      if (!over) client.subscribe(topic, { qos: 1 }, () => {});
    },
    subscribeToPassing(filters) {
      if (over || filters.length === 0) return Promise.resolve([]);
      return new Promise((resolve) => {
        // MQTT 5.0 section 3.8.3.1: rh 2 sends nothing retained at subscribing, rap keeps the flag of what is to be retained.
        client.subscribe([...filters], { qos: 1, rh: 2, rap: true }, (_cause, _asked, suback) => {
          const granted = suback?.granted ?? [];
          resolve(filters.filter((_filter, at) => Number(granted[at] ?? 0) >= REFUSED));
        });
      });
    },
    receiveMaximum: () => client.serverProperties?.receiveMaximum ?? 65_535,
    close(patience_ms) {
      if (over) return Promise.resolve();
      leave();
      return new Promise((resolve) => {
        const timer = setTimeout(() => {
          client.stream.destroy();
          resolve();
        }, patience_ms);
        client.end(!client.connected, () => {
          clearTimeout(timer);
          resolve();
        });
      });
    },
  };
}

/**
 * The library holds each packet back until the turn of the event loop is over (mqtt-packet, writeToStream.js); a stop must
 * not wait for what else its turn does, such as handing the set to the store.
 */
const leaveAtOnce = (client: MqttClient): void => client.stream.uncork();

/** The least code of a refusal, MQTT 5.0 section 2.4 and MQTT 3.1.1 section 3.9.3. */
const REFUSED = 0x80;

/**
 * The largest packet we take (MQTT 5.0 section 3.1.2.11.4): room for a payload of the most that anybody may ask with, and
 * to tell who sent more. A broker drops what is larger.
 */
const LARGEST_PACKET_BYTES = 1024 * 1024;

/** Fixed header, lengths, packet id and properties of a PUBLISH, at most: MQTT 5.0 section 3.3, with nothing optional. */
const PACKET_HEAD = 1 + 4 + 2 + 2 + 1;

function clientOptions(
  { address, secrets, ...options }: ConnectionOptions,
  { onCertificate }: Pick<ConnectionEvents, "onCertificate">,
): IClientOptions {
  const insides: IClientOptions = {
    clientId: options.client_id,
    protocolVersion: address.protocol_version,
    clean: true,
    keepalive: options.keep_alive_s,
    connectTimeout: options.connect_ms,
    reconnectPeriod: 0,
    queueQoSZero: false,
    will: { topic: options.will.topic, payload: Buffer.from(options.will.payload), qos: 1, retain: true },
  };
  if (address.protocol_version === 5) insides.properties = { maximumPacketSize: LARGEST_PACKET_BYTES };
  if (address.username !== undefined) insides.username = address.username;
  if (secrets.password !== undefined) insides.password = secrets.password;
  for (const what of ["ca", "cert", "key"] as const) {
    const file = secrets[what];
    if (file !== undefined) insides[what] = file;
  }
  // The one place where a certificate is seen on either transport; whose it is stays Node.js's to check.
  const looking = {
    checkServerIdentity(host: string, certificate: PeerCertificate): Error | undefined {
      onCertificate(certificate.valid_to);
      return checkServerIdentity(host, certificate);
    },
  };
  // @types/ws gives this option a signature that ws, which hands it to Node.js, does not have.
  return { ...insides, ...looking, wsOptions: looking as object };
}
