/**
 * How many publishes may be unanswered at once. MQTT 5 brokers name a limit (Receive Maximum) and end the connection of
 * whoever goes past it; a limit of our own also keeps memory flat while a broker is slow. What people wait for goes
 * before what can wait: a backlog of kept sets must not stand in front of a stop.
 */

export type Urgency = "now" | "later";

type Task = () => Promise<void>;

/** Far more than a local broker ever lets stand, little enough to forget. */
const LIMIT = 32;

/** One place less than the broker allows: the goodbye does not queue. */
export const limitBelow = (receive_maximum: number): number => Math.max(1, Math.min(LIMIT, receive_maximum - 1));

export class SendWindow {
  readonly #limit: number;
  readonly #waiting: Record<Urgency, Task[]> = { now: [], later: [] };
  #running = 0;

  constructor(limit: number) {
    this.#limit = limit;
  }

  /** Runs `task` as soon as there is room; at once where there is. Order is kept within one urgency. */
  run(urgency: Urgency, task: Task): void {
    this.#waiting[urgency].push(task);
    this.#fill();
  }

  #fill(): void {
    while (this.#running < this.#limit) {
      const task = this.#waiting.now.shift() ?? this.#waiting.later.shift();
      if (task === undefined) return;
      this.#running += 1;
      void task().finally(() => {
        this.#running -= 1;
        this.#fill();
      });
    }
  }
}
