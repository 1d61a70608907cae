/**
 * The last answers of a door at which a request may come twice (MQTT at QoS 1 delivers at least once): a repetition is
 * answered with what was answered, and nothing is done again. One still under way is the same request.
 */

export type Met =
  | { readonly is: "new" }
  | { readonly is: "under-way" }
  | { readonly is: "answered"; readonly payload: string }
  /** The same name, and another content. */
  | { readonly is: "another" };

/** Kept answers; with at most 16 KiB each, or of a verb that acts, which answers with one set at most. */
const MOST_KEPT = 256;
const LONGEST_KEPT_BYTES = 16 * 1024;

export class RecentAnswers {
  readonly #underWay = new Map<string, string>();
  /** In the order in which they were given. */
  readonly #answers = new Map<string, { readonly content: string; readonly payload: string }>();

  /** `name`: who asks and under which id; `content`: what is asked, or what stands for it. */
  meet(name: string, content: string): Met {
    const pending = this.#underWay.get(name);
    if (pending !== undefined) return pending === content ? { is: "under-way" } : { is: "another" };
    const answer = this.#answers.get(name);
    if (answer === undefined) return { is: "new" };
    return answer.content === content ? { is: "answered", payload: answer.payload } : { is: "another" };
  }

  begin(name: string, content: string): void {
    this.#underWay.set(name, content);
  }

  /** `acts` false: it only read, so a long answer need not be kept: reading again does no harm. */
  answered(name: string, content: string, payload: string, acts: boolean): void {
    this.#underWay.delete(name);
    if (!acts && payload.length > LONGEST_KEPT_BYTES) return;
    this.#answers.set(name, { content, payload });
    if (this.#answers.size <= MOST_KEPT) return;
    for (const oldest of this.#answers.keys()) {
      this.#answers.delete(oldest);
      return;
    }
  }
}
