/**
 * What is to be said, to lines, without their LF. Pure. The inverse of decode.ts: a line made here is read back as the
 * same value. A value the grammar has no line for is a fault of the program and throws.
 */
import type { MuscleAction } from "../vocabulary.ts";
import { checkSumText, crc16 } from "./crc16.ts";
import { decodeDeviceLine, decodeHostLine } from "./decode.ts";
import type { DeviceLine, HostLine } from "./lines.ts";

const LETTER: Readonly<Record<MuscleAction, string>> = { concentric: "c", eccentric: "e", isometric: "i" };

export function encodeDeviceLine(line: DeviceLine): string {
  const text = summed(deviceBody(line));
  const read = decodeDeviceLine(text);
  if (read.kind === "rejected") throw new Error(`No line can say this (${read.reject}): ${text}`);
  return text;
}

/** At most 40 bytes. */
export function encodeHostLine(line: HostLine): string {
  const text = summed(hostBody(line));
  if (decodeHostLine(text) === null) throw new Error(`No host line can say this: ${text}`);
  return text;
}

const summed = (body: string): string => `${body}*${checkSumText(crc16(body))}`;

function deviceBody(line: DeviceLine): string {
  const stamp = `${line.seq},${line.t_us}`;
  switch (line.kind) {
    case "reading": {
      const kind = line.cell === 1 ? "R" : `R${line.cell}`;
      const action = line.muscle_action === null ? "" : `,${LETTER[line.muscle_action]}`;
      return `${kind},${stamp},${line.counts}${action}`;
    }
    case "hello": {
      const { firmware, board, amplifier, rate, gain, boot } = line;
      return `H,${stamp},tm1,${firmware},${board},${amplifier},${rate},${gain},${boot}`;
    }
    case "key":
      return `K,${stamp},${line.key},${line.pressed ? "d" : "u"}`;
    case "tag":
      return `T,${stamp},${line.tag}`;
    case "fault":
      return `X,${stamp},${line.fault}`;
    case "answer":
      return `A,${stamp},${line.command},${line.error === null ? "ok" : `error,${line.error}`}`;
  }
}

function hostBody(line: HostLine): string {
  switch (line.kind) {
    case "identify":
      return `I,${line.command}`;
    case "lamp":
      return `L,${line.command},${line.lamp},${line.to}`;
    case "gain":
      return `G,${line.command},${line.gain}`;
    case "rate":
      return `S,${line.command},${line.rate}`;
  }
}
