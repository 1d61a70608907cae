/**
 * Sees to it that our presence topic says what we say while a connection is up: an old will that comes late, or somebody
 * who clears or overwrites it, is answered. At most once a second, so that a second recorder which claims the same
 * topic does not make both publish at full speed.
 */

const ASSERT_EVERY_MS = 1000;

export class PresenceKeeper {
  /** What we said of ourselves; byte-equal for the whole connection, so that our own echo is known. */
  readonly #ours: string;
  readonly #publish: (payload: string) => void;
  #pause: NodeJS.Timeout | undefined;
  #again = false;

  constructor(ours: string, publish: (payload: string) => void) {
    this.#ours = ours;
    this.#publish = publish;
    this.#publish(ours);
  }

  /** The broker says that the topic holds `payload` now. */
  heard(payload: string): void {
    if (payload === this.#ours) return;
    if (this.#pause !== undefined) this.#again = true;
    else this.#assert();
  }

  stop(): void {
    clearTimeout(this.#pause);
  }

  #assert(): void {
    this.#again = false;
    this.#publish(this.#ours);
    this.#pause = setTimeout(() => {
      this.#pause = undefined;
      if (this.#again) this.#assert();
    }, ASSERT_EVERY_MS);
  }
}
