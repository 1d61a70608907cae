/**
 * The recorder's side of the broker: dials for ever, says that we are there, and publishes. It never ends the program
 * and never makes anybody wait; what it could not say is dropped (live values, efforts), said again after the next
 * connect (everything retained), or kept by whoever asked for an answer (the outbox).
 */
import type { PresenceMessage } from "../../protocol/messages/presence.ts";
import { within } from "../within.ts";
import { failuresAfter, wait_ms } from "./back-off.ts";
import { type BrokerAddress, placeOf, readSecrets } from "./broker-address.ts";
import type { Bus, Listener } from "./bus-port.ts";
import { BusStanding, type StatusListeners } from "./bus-status.ts";
import { BUS_TIMING, type BusTiming } from "./bus-timing.ts";
import { CertificateWatch } from "./certificates.ts";
import { type Answer, type Connection, type ConnectionEvents, NO_ANSWER, openConnection } from "./connection.ts";
import type { Moment } from "./envelope.ts";
import { PresenceKeeper } from "./presence-keeper.ts";
import { limitBelow, SendWindow, type Urgency } from "./send-window.ts";
import { type Ending, explainUnheard, REASON } from "./trouble.ts";

export interface BusOptions extends StatusListeners {
  readonly address: BrokerAddress;
  /** Stable over restarts, so that a new connection takes over from a dead one and its will. */
  readonly client_id: string;
  readonly presence_topic: string;
  /** The presence payload; `lost` is asked for at each connect and becomes the will. */
  readonly presence: (reason: PresenceMessage["reason"]) => string;
  /** Monotonic. */
  readonly now_ms: () => number;
  /** The date, which certificates go by. */
  readonly date: () => Moment;
  /** 0 up to 1. */
  readonly random: () => number;
  readonly timing?: Partial<BusTiming>;
}

/** What belongs to the connection that is up, and goes with it. */
interface Live {
  readonly connection: Connection;
  readonly window: SendWindow;
  /** Topics whose newest payload waits for its turn. */
  readonly queued: Set<string>;
  readonly since_ms: number;
  /** The broker has answered to our presence. */
  answered: boolean;
}

export function startBus(options: BusOptions): Bus {
  const timing: BusTiming = { ...BUS_TIMING, ...options.timing };
  const standing = new BusStanding(placeOf(options.address), options);
  const certificates = new CertificateWatch(placeOf(options.address), options.date, standing);
  const remembered = new Map<string, string>();
  const listeners: (() => void)[] = [];
  let hearing: { readonly filters: readonly string[]; readonly listener: Listener } | null = null;
  const dropped = { live: 0, events: 0 };

  let live: Live | null = null;
  let presence: PresenceKeeper | null = null;
  let dialling: Connection | null = null;
  let connects = 0;
  let failures = 0;
  let retryTimer: NodeJS.Timeout | undefined;
  let aloneTimer: NodeJS.Timeout | undefined;
  let stopped: Promise<void> | undefined;

  /** One QoS 1 publish through the window. `payload` is asked for when its turn comes; null: nothing to say any more. */
  const post = (urgency: Urgency, topic: string, payload: () => string | null, retain: boolean): Promise<Answer> => {
    const via = live;
    if (via === null) return Promise.resolve(NO_ANSWER);
    return new Promise((resolve) => {
      via.window.run(urgency, async () => {
        const text = payload();
        if (text === null) return resolve(NO_ANSWER);
        resolve(await via.connection.publish(topic, text, retain));
      });
    });
  };

  const noted = async (topic: string, posted: Promise<Answer>): Promise<Answer> => {
    const answer = await posted;
    standing.answered(topic, answer);
    return answer;
  };

  const postState = (urgency: Urgency, topic: string): void => {
    if (live === null || live.queued.has(topic)) return;
    const { queued } = live;
    queued.add(topic);
    const newest = (): string | null => {
      queued.delete(topic);
      return remembered.get(topic) ?? null;
    };
    void noted(topic, post(urgency, topic, newest, true));
  };

  const say = (urgency: Urgency, topic: string, payload: string, retain: boolean): Promise<Answer> => {
    const always = (): string => payload;
    return noted(topic, post(urgency, topic, always, retain));
  };

  const present = async (payload: string): Promise<void> => {
    const via = live;
    const answer = await say("now", options.presence_topic, payload, true);
    if (via === null || via !== live || via.answered || (!answer.ok && answer.code === null)) return;
    via.answered = true;
    for (const listener of listeners) listener();
  };

  const hear = async ({ connection }: Live): Promise<void> => {
    const unheard = await connection.subscribeToPassing(hearing?.filters ?? []);
    if (unheard[0] !== undefined) options.log(explainUnheard(unheard[0], unheard.length));
  };

  const onAnother = (): void => {
    // At the first connect it may be our own former life, whose clock was ahead.
    if (connects > 1) standing.another();
  };

  const events: ConnectionEvents = {
    onUp() {
      if (dialling === null) return;
      const window = new SendWindow(limitBelow(dialling.receiveMaximum()));
      live = { connection: dialling, window, queued: new Set(), since_ms: options.now_ms(), answered: false };
      connects += 1;
      standing.up();
      // Longer than another recorder of our name would wait before it throws us out again.
      aloneTimer = setTimeout(() => standing.alone(), 2 * timing.longest_wait_ms);
      certificates.up();
      // Subscribed first, so that we hear what stood there before us.
      live.connection.subscribe(options.presence_topic);
      const publish = (payload: string): void => void present(payload);
      presence = new PresenceKeeper({ ours: options.presence("start"), publish, onAnother });
      for (const topic of remembered.keys()) postState("later", topic);
      void hear(live);
    },
    onMessage(topic, payload, retained) {
      if (topic === options.presence_topic) presence?.heard(payload.toString("utf8"), retained);
      else hearing?.listener(topic, payload, retained);
    },
    onCertificate: (ends) => certificates.shown(ends),
    onDown: (ending) => lost(ending),
  };

  const letGo = (): void => {
    clearTimeout(aloneTimer);
    certificates.down();
    presence?.stop();
    presence = null;
    live = null;
    dialling = null;
  };

  const lost = (ending: Ending): void => {
    if (stopped !== undefined) return;
    const up_ms = live === null ? 0 : options.now_ms() - live.since_ms;
    letGo();
    failures = failuresAfter(failures, up_ms, timing);
    standing.down(ending, options.date());
    // Whoever took our place would be thrown out in turn, for ever: leave it as much time as can be.
    const wait = standing.contested ? timing.longest_wait_ms : wait_ms(failures, options.random(), timing);
    retryTimer = setTimeout(() => void dial(), wait);
  };

  const dial = async (): Promise<void> => {
    const read = await readSecrets(options.address);
    if (stopped !== undefined) return;
    if (!read.ok) return lost({ code: null, error: read.error, was_up: false });
    const { address, client_id, presence_topic } = options;
    certificates.dialling(read.secrets.cert);
    const will = { topic: presence_topic, payload: options.presence("lost") };
    try {
      dialling = openConnection({ address, client_id, secrets: read.secrets, will, ...timing }, events);
    } catch (error) {
      // An address the network code refuses outright, such as a port above 65535.
      lost({ code: null, error: error as Error, was_up: false });
    }
  };

  const stop = async (): Promise<void> => {
    clearTimeout(retryTimer);
    const last = live;
    const connection = last?.connection ?? dialling;
    letGo();
    if (last !== null) {
      const said = last.connection.publish(options.presence_topic, options.presence("stop"), true);
      await within(timing.goodbye_ms, said);
    }
    await connection?.close(timing.goodbye_ms);
  };

  void dial();

  return {
    connected: () => live !== null,
    publishLive(topic, payload) {
      if (live === null || !live.connection.send(topic, payload)) dropped.live += 1;
    },
    publishState(topic, payload) {
      remembered.set(topic, payload);
      postState("now", topic);
    },
    publishEvent(topic, payload) {
      if (live === null) dropped.events += 1;
      else void say("now", topic, payload, false);
    },
    publishKept: (topic, payload) => say("later", topic, payload, false),
    setAside: (topic, bytes) => standing.setAside(topic, bytes),
    async publishAnswer(topic, payload, tree) {
      const answer = await post("later", topic, () => payload, false);
      if (answer.ok || answer.code !== REASON.packet_too_large) standing.answered(tree, answer);
      return answer;
    },
    listen(filters, listener) {
      hearing = { filters, listener };
      if (live !== null) void hear(live);
    },
    clearRetained(topic) {
      remembered.delete(topic);
      return post("later", topic, () => "", true);
    },
    afterAnswer(listener) {
      listeners.push(listener);
      if (live?.answered === true) listener();
    },
    presenceChanged: () => presence?.say(options.presence("start")),
    dropped: () => ({ ...dropped }),
    stop() {
      stopped ??= stop();
      return stopped;
    },
  };
}
