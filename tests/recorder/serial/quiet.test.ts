import { describe, expect, it } from "vitest";
import { countGarble, type Garble, NO_GARBLE } from "../../../recorder/serial/garble.ts";
import { type Quiet, quietFrom, silentAfter_ms, stalledAfter_ms, tickQuiet } from "../../../recorder/serial/quiet.ts";
import { reopenAfter_ms } from "../../../recorder/serial/reopening.ts";

describe("quiet", () => {
  const ticked = (...times_ms: number[]): Quiet => times_ms.reduce(tickQuiet, quietFrom(0));

  it("grows with the clock while the loop turns", () => {
    expect(ticked(100, 200, 290).quiet_ms).toBe(290);
  });

  it("takes a stall of any length for one turn, and a clock that went back for none", () => {
    expect(ticked(100, 60_000).quiet_ms).toBe(200);
    expect(ticked(100, 50).quiet_ms).toBe(100);
  });

  it("becomes silence after 1 s or 5 periods, and a stall after 1 s or 10", () => {
    expect([silentAfter_ms(0.0125), silentAfter_ms(0.2), silentAfter_ms(0.3)]).toEqual([1000, 1000, 1500]);
    expect([stalledAfter_ms(0.0125), stalledAfter_ms(0.1), stalledAfter_ms(0.3)]).toEqual([1000, 1000, 3000]);
  });
});

describe("the wait before a port is opened again", () => {
  it("doubles from 0.5 s to 30 s and stays there for ever", () => {
    expect([1, 2, 3, 6, 7, 8, 1e9].map((failures) => reopenAfter_ms(failures, 0))).toEqual([
      500, 1000, 2000, 16_000, 30_000, 30_000, 30_000,
    ]);
  });

  it("is up to a fifth shorter", () => {
    expect(reopenAfter_ms(1, 1)).toBe(400);
    expect(reopenAfter_ms(9, 0.5)).toBe(27_000);
  });
});

describe("garble", () => {
  const verdictOf = (foreign: number, text: number) => {
    const state: Garble = NO_GARBLE;
    return countGarble(state, Buffer.concat([Buffer.alloc(foreign, 0xe3), Buffer.alloc(text, 0x30)])).verdict;
  };

  it("is more than a fifth of at least 512 bytes", () => {
    expect(verdictOf(200, 800)).toBe("text");
    expect(verdictOf(201, 799)).toBe("garbled");
    expect(verdictOf(511, 0)).toBeNull();
    expect(verdictOf(512, 0)).toBe("garbled");
  });

  it("adds up over chunks, and begins anew after a verdict", () => {
    const first = countGarble(NO_GARBLE, Buffer.alloc(300, 0x00));
    const second = countGarble(first.state, Buffer.alloc(300, 0x80));
    expect([first.verdict, second.verdict]).toEqual([null, "garbled"]);
    expect(second.state).toEqual(NO_GARBLE);
  });

  it("is none of tab, CR, LF and printable text", () => {
    expect(countGarble(NO_GARBLE, Buffer.from("\tR ~\r\n".repeat(100))).verdict).toBe("text");
  });
});
