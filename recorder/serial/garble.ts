/** Whether what arrives is text at all: at a wrong baud rate most of it is not. Pure. */
export interface Garble {
  readonly bytes: number;
  readonly foreign: number;
}

export const NO_GARBLE: Garble = { bytes: 0, foreign: 0 };
/** Fewer say little: a board that starts up may begin with a few wrong bytes. */
const ENOUGH_BYTES = 512;
const TOO_MANY = 0.2;

export interface GarbleStep {
  readonly state: Garble;
  /** null: not enough bytes yet. */
  readonly verdict: "text" | "garbled" | null;
}

export function countGarble(state: Garble, chunk: Uint8Array): GarbleStep {
  let foreign = state.foreign;
  for (const byte of chunk) if (!isText(byte)) foreign++;
  const bytes = state.bytes + chunk.length;
  if (bytes < ENOUGH_BYTES) return { state: { bytes, foreign }, verdict: null };
  return { state: NO_GARBLE, verdict: foreign > TOO_MANY * bytes ? "garbled" : "text" };
}

/** Printable ASCII, tab, CR and LF. */
const isText = (byte: number): boolean =>
  (byte >= 0x20 && byte <= 0x7e) || byte === 0x0a || byte === 0x0d || byte === 0x09;
