/** Whoever hangs the loads: somebody at the terminal, or a rig that does it by itself. */
import type { Refusal } from "../../../protocol/vocabulary.ts";

export interface Technician {
  /** Tells what is to be done and comes back when it is; false: nobody is there to do it. */
  readonly instruct: (text: string) => Promise<boolean>;
  /** While a capture runs, `takes_s` of the sensor's own time. */
  readonly during: <T>(said: string, takes_s: number, work: Promise<T>) => Promise<T>;
  /** Said, and stays. */
  readonly note: (text: string) => void;
  /** A capture was refused: whether it is to be tried again. */
  readonly again: (why: string, refusal: Refusal | undefined) => Promise<boolean>;
  readonly keep: () => Promise<boolean>;
}

/** A rig changes the loads by what it is told, and nobody is asked; what is refused is refused. */
export const rig = (note: (text: string) => void): Technician => ({
  instruct: async (text) => {
    note(text);
    return true;
  },
  during: (_said, _takes_s, work) => work,
  note,
  again: async () => false,
  keep: async () => true,
});
