/**
 * The board's answers to the host, which nobody publishes, so they go only where they were asked. They wait while a reading
 * is still to be given to somebody: lines keep their order.
 */
import type { FakeBoard } from "../../recorder/station/fake-board.ts";
import type { Pty } from "./pty.ts";
import { spoken } from "./spoken.ts";

export class Answers {
  readonly #board: FakeBoard;
  readonly #pty: Pty;
  #held = false;
  #heard = "";

  constructor(board: FakeBoard, pty: Pty) {
    this.#board = board;
    this.#pty = pty;
    pty.onHost((text) => {
      this.#heard += text;
      if (!this.#held) this.#answer();
    });
  }

  hold(): void {
    this.#held = true;
  }

  release(): void {
    this.#held = false;
    if (this.#heard !== "") this.#answer();
  }

  #answer(): void {
    this.#board.hear(this.#heard);
    this.#heard = "";
    this.#pty.write(spoken(this.#board));
  }
}
