/**
 * Sees to it that our presence topic says what we say while a connection is up: an old will that comes late, or somebody
 * who clears or overwrites it, is answered. At most once a second, so that a second recorder which claims the same
 * topic does not make both publish at full speed.
 *
 * Such a second recorder is also noticed here. MQTT 5 lets a broker say that a session was taken over, but mosquitto
 * 2.0.11 only closes the connection [measured], so what the topic held when we came back has to tell.
 */
import { presenceSchema } from "../../protocol/messages/presence.ts";

const ASSERT_EVERY_MS = 1000;

export interface PresenceKeeperOptions {
  /** What we say of ourselves, until we say something else: byte-equal, so that our own echo is known. */
  readonly ours: string;
  readonly publish: (payload: string) => void;
  /** A recorder of our name that is not us has been here since we started. */
  readonly onAnother: () => void;
}

export class PresenceKeeper {
  readonly #options: PresenceKeeperOptions;
  #ours: string;
  /** What we said before, while its echo may still be on its way; null: it is not. */
  #former: string | null = null;
  #pause: NodeJS.Timeout | undefined;
  #again = false;

  constructor(options: PresenceKeeperOptions) {
    this.#options = options;
    this.#ours = options.ours;
    options.publish(options.ours);
  }

  /** We have something else to say of ourselves from now on. */
  say(ours: string): void {
    if (ours === this.#ours) return;
    this.#former = this.#ours;
    this.#ours = ours;
    this.#options.publish(ours);
  }

  /** What the topic holds now; or held before our first word, if it comes as `retained`. */
  heard(payload: string, retained: boolean): void {
    // What the broker passes on comes in the order in which it was said: after the newest, an older one is no echo.
    if (payload === this.#ours) this.#former = null;
    if (payload === this.#ours || payload === this.#former) return;
    if (fromAnother(payload, this.#ours)) this.#options.onAnother();
    if (retained) return;
    if (this.#pause !== undefined) this.#again = true;
    else this.#assert();
  }

  stop(): void {
    clearTimeout(this.#pause);
  }

  #assert(): void {
    this.#again = false;
    this.#options.publish(this.#ours);
    this.#pause = setTimeout(() => {
      this.#pause = undefined;
      if (this.#again) this.#assert();
    }, ASSERT_EVERY_MS);
  }
}

const who = presenceSchema.pick({ boot: true, at: true, since: true });

/** Our own former life has another `boot` too, but spoke before we started. */
function fromAnother(payload: string, ours: string): boolean {
  const [theirs, own] = [read(payload), read(ours)];
  return theirs !== null && own !== null && theirs.boot !== own.boot && theirs.at > own.since;
}

function read(payload: string) {
  try {
    return who.safeParse(JSON.parse(payload)).data ?? null;
  } catch {
    return null;
  }
}
