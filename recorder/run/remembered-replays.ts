/** Kept sets judged again at other thresholds, each once: a set's log never changes, and a trend asks for the same few. */
import type { Log } from "../control/ports.ts";
import type { Store } from "../ports.ts";
import { type Figures, type Replay, type Replayed, replayKey } from "../progress/series.ts";
import { figuresAt } from "./replay.ts";

/** So many are remembered, those that were asked for last; some hundred bytes each. */
const REMEMBERED = 500;

const NEVER_LOST: Figures = { best_force_N: null, impulse_N_s: null, duration_s: null, mean_force_N: null };

export class RememberedReplays {
  readonly #store: Pick<Store, "set">;
  readonly #log: Pick<Log, "error">;
  /** Oldest first. */
  readonly #known = new Map<string, Figures>();

  constructor(store: Pick<Store, "set">, log: Pick<Log, "error">) {
    this.#store = store;
    this.#log = log;
  }

  /** A set that cannot be judged again is left out, and the log says why: the others are still worth comparing. */
  async of(wanted: readonly Replay[]): Promise<Replayed> {
    const replayed = new Map<string, Figures>();
    for (const replay of wanted) {
      const key = replayKey(replay.set_id, replay.fatigue_threshold);
      const figures = this.#known.get(key) ?? (await this.#judged(replay));
      if (figures === null) continue;
      this.#remember(key, figures);
      replayed.set(key, figures);
    }
    return replayed;
  }

  /** What is known of erased sets goes with them; it is all soon judged again. */
  forget(): void {
    this.#known.clear();
  }

  async #judged({ set_id, fatigue_threshold }: Replay): Promise<Figures | null> {
    try {
      const kept = await this.#store.set(set_id);
      if (kept === null) return null;
      const again = await figuresAt(kept.message, kept.log, fatigue_threshold);
      if (again?.reached_threshold !== true) return NEVER_LOST;
      const { best_force_N, impulse_N_s, duration_s, mean_force_N } = again;
      return { best_force_N, impulse_N_s, duration_s, mean_force_N };
    } catch (error) {
      this.#log.error({ err: error, set_id }, "a kept set could not be judged again for a trend");
      return null;
    }
  }

  #remember(key: string, figures: Figures): void {
    this.#known.delete(key);
    this.#known.set(key, figures);
    const [oldest] = this.#known.keys();
    if (this.#known.size > REMEMBERED && oldest !== undefined) this.#known.delete(oldest);
  }
}
