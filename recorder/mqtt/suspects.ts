/**
 * Which station's oldest row may be what ends the connection. Some brokers do not refuse what they cannot take but break
 * off, or answer so that nobody can read it; such a row would take every other station's down with it at each try. Twice
 * in a row lost with the connection, a row is sent alone, when no station above suspicion has any; lost alone too, it is
 * known for it.
 */

/** Once may be anything: every broker that restarts loses what is under way. */
const SUSPECT_AFTER = 2;

export class Suspects {
  readonly #losses = new Map<string, number>();
  #known: string | null = null;

  /** The connection ended while the oldest row of `station` stood unanswered. Says whether it had been sent alone. */
  lost(station: string): boolean {
    const alone = this.has(station);
    this.#losses.set(station, (this.#losses.get(station) ?? 0) + 1);
    if (alone) this.#known = station;
    return alone;
  }

  /** The broker said something to it, be it no. */
  answered(station: string): void {
    this.#losses.delete(station);
  }

  has(station: string): boolean {
    return (this.#losses.get(station) ?? 0) >= SUSPECT_AFTER;
  }

  /** How often in a row it was lost alone. */
  timesAlone(station: string): number {
    return (this.#losses.get(station) ?? 0) - SUSPECT_AFTER;
  }

  /** The station whose row ended the last connection, alone; null: it ended otherwise. Forgotten by asking. */
  takeCulprit(): string | null {
    const known = this.#known;
    this.#known = null;
    return known;
  }
}
