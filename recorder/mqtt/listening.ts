/**
 * Listens at a broker as a display does, for some seconds, with a connection of its own: what was let in, what stood there
 * and what came, each with its moment. It publishes nothing, has no will, and takes no one's place: its name is its own.
 */
import { randomUUID } from "node:crypto";
import { connect, type IClientOptions } from "mqtt";
import type { BrokerAddress, Secrets } from "./broker-address.ts";
import type { Ending } from "./trouble.ts";

export interface Heard {
  readonly topic: string;
  readonly payload: string;
  /** It stood there before we came. */
  readonly retained: boolean;
  /** Host's monotonic clock, ms since the listening began. */
  readonly after_ms: number;
  /** Host's wall clock. */
  readonly wall_ms: number;
}

export interface Listened {
  /** Until the broker had let us in, ms; null: it did not. */
  readonly connected_ms: number | null;
  /** Topics it did not let us subscribe to. A granted one proves nothing yet. */
  readonly refused: readonly string[];
  readonly heard: readonly Heard[];
  /** How long we listened after the subscriptions, s. */
  readonly lasted_s: number;
  /** It ended before its time; null: it did not. */
  readonly ending: Ending | null;
}

export interface ListenOptions {
  readonly address: BrokerAddress;
  readonly secrets: Secrets;
  readonly topics: readonly string[];
  readonly for_s: number;
  readonly connect_ms?: number;
  /** Hangs up at once. */
  readonly signal?: AbortSignal;
}

/** MQTT 5.0 section 2.4 and MQTT 3.1.1 section 3.9.3: from here on a subscription is refused. */
const REFUSED = 0x80;
/** A broker that says nothing to a subscription for so long will not. */
const CONNECT_MS = 5000;
const GOODBYE_MS = 700;

export function listen(options: ListenOptions): Promise<Listened> {
  const { topics, for_s, signal } = options;
  const connect_ms = options.connect_ms ?? CONNECT_MS;
  return new Promise((resolve) => {
    const began_ms = performance.now();
    const client = connect(options.address.url, clientOptions(options, connect_ms));
    const heard: Heard[] = [];
    let refused: readonly string[] = [];
    let connected_ms: number | null = null;
    let subscribed_ms: number | null = null;
    let code: number | null = null;
    let error: Ending["error"] = null;
    let timer = setTimeout(() => {
      error ??= { message: `no answer within ${connect_ms / 1000} s` };
      end(true);
    }, connect_ms);
    let over = false;
    const end = (early: boolean): void => {
      if (over) return;
      over = true;
      clearTimeout(timer);
      signal?.removeEventListener("abort", hangUp);
      const was_up = connected_ms !== null;
      const lasted_s = subscribed_ms === null ? 0 : (performance.now() - subscribed_ms) / 1000;
      const ending = early ? { code, error, was_up } : null;
      const gone = setTimeout(done, GOODBYE_MS);
      function done(): void {
        clearTimeout(gone);
        resolve({ connected_ms, refused, heard, lasted_s, ending });
      }
      // Not before the broker was told: it would take us for lost.
      client.end(early, done);
    };
    const hangUp = (): void => end(true);
    signal?.addEventListener("abort", hangUp, { once: true });
    if (signal?.aborted === true) hangUp();

    client.on("connect", () => {
      connected_ms = performance.now() - began_ms;
      client.subscribe([...topics], { qos: 1 }, (_cause, _asked, suback) => {
        if (over) return;
        const granted = suback?.granted ?? [];
        refused = topics.filter((_topic, at) => Number(granted[at] ?? 0) >= REFUSED);
        subscribed_ms = performance.now();
        clearTimeout(timer);
        timer = setTimeout(() => end(false), 1000 * for_s);
      });
    });
    client.on("message", (topic, payload, { retain }) => {
      const after_ms = performance.now() - began_ms;
      heard.push({ topic, payload: payload.toString(), retained: retain, after_ms, wall_ms: Date.now() });
    });
    client.on("disconnect", (packet) => {
      code = packet.reasonCode ?? null;
    });
    client.on("error", (cause: Error & { code?: string | number }) => {
      if (typeof cause.code === "number") code = cause.code;
      else error ??= { code: cause.code, message: cause.message };
    });
    client.on("close", () => end(true));
  });
}

function clientOptions({ address, secrets }: ListenOptions, connect_ms: number): IClientOptions {
  const options: IClientOptions = {
    clientId: `listening-${randomUUID().slice(0, 13)}`,
    protocolVersion: address.protocol_version,
    clean: true,
    keepalive: 10,
    // Ours comes first, and says it in one sentence.
    connectTimeout: 2 * connect_ms,
    reconnectPeriod: 0,
  };
  if (address.username !== undefined) options.username = address.username;
  if (secrets.password !== undefined) options.password = secrets.password;
  for (const what of ["ca", "cert", "key"] as const) {
    const file = secrets[what];
    if (file !== undefined) options[what] = file;
  }
  return options;
}
