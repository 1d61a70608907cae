import { describe, expect, test } from "vitest";
import { closest } from "../../../protocol/requests/closest.ts";

const STATIONS = ["leg-press", "leg-curl", "row"];

describe("the name a mistyped one was meant to be", () => {
  test.each([
    // [typed, meant]; a third of the letters may be wrong, and always one.
    ["leg-press", "leg-press"],
    ["leg-pres", "leg-press"],
    ["LEG-PRESS", "leg-press"],
    // Two neighbours swapped are one slip.
    ["leg-perss", "leg-press"],
    ["rwo", "row"],
    ["ro", "row"],
    ["roww", "row"],
    // Three of nine letters are a third; a fourth is too many.
    ["leg-prxyz", "leg-press"],
    ["leg-pwxyz", null],
    ["xyz", null],
    ["", null],
  ])("%s -> %s", (typed, meant) => {
    expect(closest(typed, STATIONS)).toBe(meant);
  });

  test("the nearer of two, whatever their order", () => {
    expect(closest("leg-cpres", ["leg-curl", "leg-press"])).toBe("leg-press");
    expect(closest("leg-cpres", ["leg-press", "leg-curl"])).toBe("leg-press");
  });

  test("a name too long to be a slip is not compared", () => {
    const name = "a".repeat(60);
    expect(closest(name, [`${name}b`])).toBe(`${name}b`);
    expect(closest(`${name}a`, [`${name}b`])).toBeNull();
  });
});
