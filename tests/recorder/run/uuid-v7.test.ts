import { describe, expect, it } from "vitest";
import { uuidv7 } from "../../../recorder/run/uuid-v7.ts";

/** rand_a 0xCC3 and rand_b 0x18C4DC0C0C07398F of the example; version and variant bits are for the code to set. */
const EXAMPLE = Uint8Array.from([0x0c, 0xc3, 0x18, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f]);

describe("a UUID of version 7", () => {
  it("is RFC 9562's own example, appendix A.6", () => {
    expect(uuidv7(0x017f22e279b0, () => EXAMPLE)).toBe("017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
    // The example's moment: Tuesday, February 22, 2022 2:22:22.00 PM GMT-05:00.
    expect(0x017f22e279b0).toBe(Date.parse("2022-02-22T14:22:22.000-05:00"));
  });

  it("has version and variant whatever the random bits are", () => {
    const all = (byte: number): string => uuidv7(0xffffffffffff, () => new Uint8Array(10).fill(byte));
    expect(all(0xff)).toBe("ffffffff-ffff-7fff-bfff-ffffffffffff");
    expect(all(0x00)).toBe("ffffffff-ffff-7000-8000-000000000000");
  });

  it("sorts by time, also across the 32nd bit, and takes a clock that shows nonsense", () => {
    const at = (ms: number): string => uuidv7(ms, () => EXAMPLE);
    const moments = [0, 1, 999, 2 ** 32 - 1, 2 ** 32, Date.UTC(2026, 10, 24), Date.UTC(2126, 0, 1)];
    const ids = moments.map(at);
    expect([...ids].sort()).toEqual(ids);
    expect(at(-5)).toBe(at(0));
    expect(at(1.9)).toBe(at(1));
  });

  it("is another one each time", () => {
    const ids = new Set(Array.from({ length: 2000 }, () => uuidv7(1_700_000_000_000)));
    expect(ids.size).toBe(2000);
    for (const id of ids) expect(id).toMatch(/^018bcfe5-6800-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  });
});
