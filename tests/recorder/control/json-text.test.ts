/** Answers as text: JSON.stringify (ECMA-262, JSON object) says which. */
import fc from "fast-check";
import { expect, test } from "vitest";
import { jsonText } from "../../../recorder/control/json-text.ts";

test("whatever it is, the text is JSON.stringify's", async () => {
  const long = fc.array(fc.oneof(fc.double(), fc.constant(null), fc.integer()), { minLength: 0, maxLength: 5000 });
  const value = fc.oneof(fc.jsonValue(), fc.record({ set: fc.jsonValue(), curve: fc.record({ force_N: long }) }));
  await fc.assert(
    fc.asyncProperty(value, async (data) => {
      expect(await jsonText(data)).toBe(JSON.stringify(data));
    }),
    { numRuns: 200 },
  );
});

test.each([2000, 2001, 4000, 4001])("a list of %d, and what is not there", async (length) => {
  const data = { list: Array.from({ length }, (_, at) => ({ at })), left_out: undefined, at: new Date(0), none: {} };
  expect(await jsonText(data)).toBe(JSON.stringify(data));
});

test("a long list does not keep anybody waiting: the loop turns between its slices", async () => {
  let turns = 0;
  let over = false;
  const turn = (): void => {
    turns += 1;
    if (!over) setImmediate(turn);
  };
  setImmediate(turn);
  await jsonText({ curve: { force_N: Array.from({ length: 40_000 }, (_, at) => at) } });
  over = true;
  expect(turns).toBeGreaterThanOrEqual(20);
});
