/** What the rest of the recorder may ask of the broker's side. Types only. */
import type { Answer } from "./connection.ts";

export interface Bus {
  connected(): boolean;
  /** QoS 0, not retained. Dropped and counted while there is no connection or the network is congested. */
  publishLive(topic: string, payload: string): void;
  /** QoS 1, retained. The newest of each topic is remembered and published again after every connect. */
  publishState(topic: string, payload: string): void;
  /** QoS 1, not retained. Dropped and counted while there is no connection. */
  publishEvent(topic: string, payload: string): void;
  /** QoS 1, not retained; what the broker said is the caller's to act on. */
  publishKept(topic: string, payload: string): Promise<Answer>;
  /**
   * The same for the answer to a request, whose topic nobody writes to twice: a refusal is trouble of all under `tree`.
   * One that is too large is no trouble of ours: whoever asked is told.
   */
  publishAnswer(topic: string, payload: string, tree: string): Promise<Answer>;
  /** A kept message that no connection outlives waits for a better day: trouble until its topic is answered. */
  setAside(topic: string, bytes: number): void;
  /** Hears what passes on `filters` from now on, over every connection; nothing is kept for us while there is none. */
  listen(filters: readonly string[], listener: Listener): void;
  /** Forgets the topic and has the broker forget it. */
  clearRetained(topic: string): Promise<Answer>;
  /**
   * Called on every connection once the broker has answered to our presence, be it no; at once where it has. It is known to
   * answer from then on: what it takes in without a word had better be nothing that has to last.
   */
  afterAnswer(listener: () => void): void;
  /** What `presence` gives has changed: said at once where we are connected. */
  presenceChanged(): void;
  dropped(): { readonly live: number; readonly events: number };
  /** Says that we stopped on purpose, then ends; under 2 s whatever the broker does. */
  stop(): Promise<void>;
}

/** `retained`: it stood there before, or is to stand there from now on, where the broker's protocol tells. */
export type Listener = (topic: string, payload: Buffer, retained: boolean) => void;
