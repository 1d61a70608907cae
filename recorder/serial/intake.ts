/**
 * How much of one line the program takes, so that a line in flood costs the others next to nothing.
 *
 * Nothing is dropped here: what is too much is left with the driver until its turn comes. At 115200 baud that turn has
 * always come. A board on native USB, a pty or a recording played fast may be quicker, and is served as fast as it sends up
 * to the limit, which is fifty times what such a line carries.
 *
 * A line costs beside its bytes as much as sixteen of them: a flood of nothing but line ends is the dearest of all.
 */
import type { LinkClock } from "./clock.ts";
import { BAUD_RATE } from "./settings.ts";

/** 8N1: ten bits a byte. */
const WIRE_BYTES_PER_S = BAUD_RATE / 10;
export const MOST_BYTES_PER_S = 50 * WIRE_BYTES_PER_S;
const LINE_BYTES = 16;
/** What a driver has kept for a program that stood still is taken at once. */
const BURST_BYTES = 65_536;
/** Too much for this long is a flood. */
const FLOOD_AFTER_US = 1_000_000;

export class Intake {
  readonly #clock: LinkClock;
  readonly #onFlood: (flooding: boolean) => void;
  #credit_bytes = BURST_BYTES;
  #counted_at_us: number;
  /** null: there was credit left. */
  #short_since_us: number | null = null;
  #flooding = false;
  /** Takes the wait back; null: none. */
  #cancelWait: (() => void) | null = null;

  constructor(clock: LinkClock, onFlood: (flooding: boolean) => void) {
    this.#clock = clock;
    this.#onFlood = onFlood;
    this.#counted_at_us = clock.now_us();
  }

  /** Bytes wait for their turn. */
  get holding(): boolean {
    return this.#cancelWait !== null;
  }

  /** So much has been taken; `next` is called when there may be more. */
  took(bytes: number, lines: number, next: () => void): void {
    const now_us = this.#clock.now_us();
    const refilled_bytes = ((now_us - this.#counted_at_us) / 1e6) * MOST_BYTES_PER_S;
    this.#counted_at_us = now_us;
    this.#credit_bytes = Math.min(BURST_BYTES, this.#credit_bytes + refilled_bytes);
    if (this.#credit_bytes === BURST_BYTES) this.#calm();
    this.#credit_bytes -= bytes + lines * LINE_BYTES;
    if (this.#credit_bytes >= 0) {
      next();
      return;
    }
    this.#short(now_us);
    this.#cancelWait = this.#clock.after((-this.#credit_bytes / MOST_BYTES_PER_S) * 1000, () => {
      this.#cancelWait = null;
      next();
    });
  }

  /** No more bytes come: nothing is called any more. */
  end(): void {
    this.#cancelWait?.();
    this.#cancelWait = null;
  }

  #calm(): void {
    this.#short_since_us = null;
    if (!this.#flooding) return;
    this.#flooding = false;
    this.#onFlood(false);
  }

  #short(now_us: number): void {
    this.#short_since_us ??= now_us;
    if (this.#flooding || now_us - this.#short_since_us < FLOOD_AFTER_US) return;
    this.#flooding = true;
    this.#onFlood(true);
  }
}
