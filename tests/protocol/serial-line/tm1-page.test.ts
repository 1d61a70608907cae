import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { decodeDeviceLine, decodeHostLine } from "../../../protocol/serial-line/decode.ts";
import { encodeDeviceLine, encodeHostLine } from "../../../protocol/serial-line/encode.ts";
import { LINE_CAP_BYTES, REJECTS } from "../../../protocol/serial-line/lines.ts";

const PAGE = readFileSync(new URL("../../../protocol/serial-line/TM1.md", import.meta.url), "utf8");
const block = (name: string): string[] => {
  const found = new RegExp(`\`\`\`${name}\\n([^\`]*)\`\`\``).exec(PAGE)?.[1] ?? "";
  return found.split("\n").filter((line) => line !== "");
};

/** The good lines of the published grammar, in its order, beside what each says. */
const PROMISED: Readonly<Record<string, object>> = {
  "H,0,1843,tm1,reference-avr/1.0.0,press-left,hx711,80,128,5e21*28F5": {
    kind: "hello",
    seq: 0,
    t_us: 1843,
    firmware: "reference-avr/1.0.0",
    board: "press-left",
    amplifier: "hx711",
    rate: 80,
    gain: 128,
    boot: "5e21",
  },
  "R,1,14343,84123*9DC1": { kind: "reading", seq: 1, t_us: 14343, cell: 1, counts: 84123, muscle_action: null },
  "R,2,26843,-84123,c*91AF": { kind: "reading", seq: 2, cell: 1, counts: -84123, muscle_action: "concentric" },
  "R,3,39343,84123,,ext*545A": { kind: "reading", seq: 3, cell: 1, counts: 84123, muscle_action: null },
  "R,4,51843,84123,*8F60": { kind: "reading", seq: 4, cell: 1, counts: 84123, muscle_action: null },
  "R,65535,4294967295,8388607*B374": { kind: "reading", seq: 65535, t_us: 4294967295, cell: 1, counts: 8388607 },
  "R,0,12204,-8388608*47D1": { kind: "reading", seq: 0, t_us: 12204, cell: 1, counts: -8388608 },
  "K,7,912345,1,d*F39F": { kind: "key", seq: 7, t_us: 912345, key: 1, pressed: true },
  "T,8,1000000,band-0142*D475": { kind: "tag", seq: 8, t_us: 1000000, tag: "band-0142" },
  "X,9,1012500,amplifier-silent*8302": { kind: "fault", seq: 9, t_us: 1012500, fault: "amplifier-silent" },
  "A,10,1025000,3,ok*1998": { kind: "answer", seq: 10, t_us: 1025000, command: 3, error: null },
  "A,11,1037500,4,error,unknown-command*471B": { kind: "answer", seq: 11, command: 4, error: "unknown-command" },
};
const PROMISED_HOST: Readonly<Record<string, object>> = {
  "I,3*0A1B": { kind: "identify", command: 3 },
  "L,4,2,on*E42C": { kind: "lamp", command: 4, lamp: 2, to: "on" },
  "G,5,64*9531": { kind: "gain", command: 5, gain: 64 },
  "S,6,10*CBDB": { kind: "rate", command: 6, rate: 10 },
};

describe("TM1.md", () => {
  it("holds every line that was promised", () => {
    expect(block("good")).toEqual(expect.arrayContaining(Object.keys(PROMISED)));
    expect(block("good-host")).toEqual(Object.keys(PROMISED_HOST));
  });

  it.each(Object.entries(PROMISED))("means what was promised: %s", (text, said) => {
    expect(decodeDeviceLine(text)).toMatchObject(said);
    expect(decodeDeviceLine(`${text}\r`)).toEqual(decodeDeviceLine(text));
  });

  it.each(Object.entries(PROMISED_HOST))("means what was promised: %s", (text, said) => {
    expect(decodeHostLine(text)).toEqual(said);
  });

  it.each(block("good"))("reads and says again: %s", (text) => {
    const line = decodeDeviceLine(text);
    if (line.kind === "rejected") throw new Error(line.reject);
    const again = encodeDeviceLine(line);
    expect(decodeDeviceLine(again)).toEqual(line);
    // A field that is ignored, or stands empty where it may be absent, is not said again.
    const sparse = text.includes(",,") || text.includes(",*");
    expect(again === text).toBe(!sparse);
  });

  it.each(block("good-host"))("reads and says again: %s", (text) => {
    const line = decodeHostLine(text);
    expect(line && encodeHostLine(line)).toBe(text);
  });

  it.each(block("rejected"))("is not taken: %s", (entry) => {
    const [name, ...rest] = entry.split(" ");
    expect(decodeDeviceLine(rest.join(" "))).toMatchObject({ kind: "rejected", reject: name });
  });

  it("has an example of every name, in the order of the checks", () => {
    const names = block("rejected").map((entry) => entry.split(" ")[0]);
    expect([...new Set(names)]).toEqual([...REJECTS]);
  });

  it("draws a line that is one, with the cap that is one", () => {
    const drawn = /^ (\S+)<LF>$/m.exec(PAGE)?.[1] ?? "";
    expect(decodeDeviceLine(drawn).kind).toBe("reading");
    expect(PAGE).toContain(`At most ${LINE_CAP_BYTES} bytes up to the LF`);
  });
});
