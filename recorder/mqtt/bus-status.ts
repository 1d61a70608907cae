/**
 * How we stand with the broker: there or not, what is wrong, which alarm. Told on change only, so that a broker that is
 * away for a day is one line. What is worst comes first: another recorder of our name, then the connection, then
 * messages that were refused or set aside, then a certificate that ends soon.
 */
import type { AlarmCode } from "../../protocol/vocabulary.ts";
import type { Answer } from "./connection.ts";
import type { Moment } from "./envelope.ts";
import {
  type Ending,
  explainAside,
  explainConflict,
  explainEnding,
  explainRefusal,
  REASON,
  type Trouble,
} from "./trouble.ts";

export interface BusStatus {
  readonly connected: boolean;
  /** One sentence for people; null: all is well, or nothing is known yet. */
  readonly trouble: string | null;
  readonly alarm: AlarmCode | null;
}

export interface StatusListeners {
  /** On every change, and only then. */
  readonly onStatus: (status: BusStatus) => void;
  /** One line a change, never one a try: what is wrong, or that all is `well`. */
  readonly log: (line: string, about?: "well") => void;
}

export class BusStanding {
  /** The broker as people know it. */
  readonly #place: string;
  readonly #listeners: StatusListeners;
  readonly #refusals = new Map<string, Trouble>();
  /** By topic, over connections: that these ended is what is told of them. */
  readonly #aside = new Map<string, Trouble>();
  #connected = false;
  #conflict: Trouble | null = null;
  #trouble: Trouble | null = null;
  #certificates: Trouble | null = null;
  #told: BusStatus = { connected: false, trouble: null, alarm: null };

  constructor(place: string, listeners: StatusListeners) {
    this.#place = place;
    this.#listeners = listeners;
  }

  /** Another recorder of our name is about. */
  get contested(): boolean {
    return this.#conflict !== null;
  }

  up(): void {
    this.#connected = true;
    this.#trouble = null;
    this.#tell();
  }

  /** `now`: our clock, by which certificates are judged. */
  down(ending: Ending, now: Moment): void {
    this.#connected = false;
    this.#certificates = null;
    this.#refusals.clear();
    this.#trouble = explainEnding(ending, this.#place, now);
    if (ending.code === REASON.taken_over) this.#conflict = this.#trouble;
    else if (!ending.was_up) this.#conflict = null;
    this.#tell();
  }

  /** A refusal is trouble until the same topic is taken. */
  answered(topic: string, answer: Answer): void {
    if (answer.ok) this.#refusals.delete(topic);
    else if (answer.code !== null) this.#refusals.set(topic, explainRefusal(topic, answer.code));
    if (answer.ok || answer.code !== null) this.#aside.delete(topic);
    this.#tell();
  }

  /** Logged once, however many connections it costs; becomes the trouble when the next one is up. */
  setAside(topic: string, bytes: number): void {
    const trouble = explainAside(topic, bytes);
    if (!this.#aside.has(topic)) this.#listeners.log(trouble.sentence);
    this.#aside.set(topic, trouble);
  }

  /** A certificate ends soon, or none does. */
  certificates(trouble: Trouble | null): void {
    this.#certificates = trouble;
    this.#tell();
  }

  another(): void {
    this.#conflict = explainConflict(this.#place);
    this.#tell();
  }

  alone(): void {
    this.#conflict = null;
    this.#tell();
  }

  #tell(): void {
    const aside = this.#aside.values().next().value;
    const worst =
      this.#conflict ?? this.#trouble ?? this.#refusals.values().next().value ?? aside ?? this.#certificates;
    const before = this.#told;
    const status = { connected: this.#connected, trouble: worst?.sentence ?? null, alarm: worst?.alarm ?? null };
    if (same(status, before)) return;
    this.#told = status;
    const { log, onStatus } = this.#listeners;
    if (status.connected && !before.connected) log(`Connected to the broker at ${this.#place}.`, "well");
    if (status.trouble !== null && status.trouble !== before.trouble && worst !== aside) log(status.trouble);
    if (status.connected && before.connected && status.trouble === null)
      log(`All is well again at ${this.#place}.`, "well");
    onStatus(status);
  }
}

const same = (a: BusStatus, b: BusStatus): boolean =>
  a.connected === b.connected && a.trouble === b.trouble && a.alarm === b.alarm;
