import type { FakeBoard } from "../../recorder/station/fake-board.ts";

/** Takes what the board has to say, as it goes over the line. */
export const spoken = (board: FakeBoard): string =>
  board.out
    .splice(0)
    .map((line) => `${line}\n`)
    .join("");
