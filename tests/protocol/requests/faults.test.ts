import { describe, expect, test } from "vitest";
import { z } from "zod";
import { check, pathText, sayFault } from "../../../protocol/requests/faults.ts";

const schema = z.strictObject({
  name: z.string().min(1).max(3).optional(),
  size: z.number().min(2).max(5).optional(),
  above: z.number().positive().optional(),
  whole: z.int().optional(),
  which: z.enum(["left", "right", "both"]).optional(),
  gain: z.literal([128, 64]).optional(),
  code: z
    .string()
    .regex(/^[a-z]$/, "must be one small letter")
    .optional(),
  bare: z
    .string()
    .regex(/^[a-z]$/)
    .optional(),
  id: z.uuid().optional(),
  when: z.iso.datetime().optional(),
  yes: z.boolean().optional(),
  list: z
    .array(z.strictObject({ deep_key: z.number().optional() }))
    .min(1)
    .optional(),
  few: z.array(z.number()).max(1, "needs no more than one").optional(),
  below: z.number().negative().optional(),
  only: z.literal(1).optional(),
  must: z.enum(["a", "b"]).default("a"),
  moment: z.date().optional(),
  pair: z.tuple([z.strictObject({ deep_key: z.number().optional() })]).optional(),
  table: z.record(z.string(), z.strictObject({ deep_key: z.number().optional() })).optional(),
  steps: z.number().multipleOf(0.5, "must be a multiple of 0.5").optional(),
  inner: z.strictObject({ needed: z.number() }).prefault({ needed: 1 }),
});

const said = (value: unknown): readonly string[] => {
  const checked = check(schema, value);
  return checked.ok ? [] : checked.faults.map(sayFault);
};

describe("what is wrong, as a key path and words", () => {
  test.each<[unknown, string]>([
    [{ name: "" }, "name must not be empty"],
    [{ name: "long" }, "name must have at most 3 characters"],
    [{ name: 5 }, "name must be text"],
    [{ size: 1.9 }, "size must be at least 2"],
    [{ size: 5.1 }, "size must be at most 5"],
    [{ size: "3" }, "size must be a number"],
    [{ size: Number.NaN }, "size must be a number"],
    [{ above: 0 }, "above must be more than 0"],
    [{ below: 0 }, "below must be less than 0"],
    [{ only: 2 }, "only must be 1"],
    [{ must: null }, "must must be a or b"],
    [{ moment: "now" }, "moment must be date"],
    [{ steps: 0.7 }, "steps must be a multiple of 0.5"],
    // No hint where the schema's own way of naming keys cannot be followed; never a failure.
    [{ pair: [{ dep_key: 1 }] }, "pair[0].dep_key is not a known key"],
    [{ table: { any: { dep_key: 1 } } }, "table.any.dep_key is not a known key"],
    [{ whole: 1.5 }, "whole must be a whole number"],
    [{ which: "middle" }, "which must be left, right or both"],
    [{ gain: 32 }, "gain must be 128 or 64"],
    [{ code: "A" }, "code must be one small letter"],
    [{ bare: "A" }, "bare must match /^[a-z]$/"],
    [{ id: "7" }, "id must be a UUID"],
    [{ when: "yesterday" }, "when must be a time such as 2026-11-24T18:00:00Z"],
    [{ yes: "yes" }, "yes must be true or false"],
    [{ list: [] }, "list must have at least 1 entries"],
    [{ list: {} }, "list must be a list"],
    [{ list: [{}, { deep_key: "x" }] }, "list[1].deep_key must be a number"],
    [{ list: [{}, { dep_key: 1 }] }, "list[1].dep_key is not a known key, did you mean deep_key?"],
    [{ inner: {} }, "inner.needed is missing"],
    [{ inner: { neded: 1, needed: 1 } }, "inner.neded is not a known key, did you mean needed?"],
    [{ zzz: 1 }, "zzz is not a known key"],
    [7, "must be a table of keys"],
  ])("%j: %s", (value, sentence) => {
    expect(said(value)).toEqual([sentence]);
  });

  test("a message the schema brings is kept", () => {
    expect(said({ few: [1, 2] })).toEqual(["few needs no more than one"]);
  });

  test("a missing choice is missing", () => {
    expect(check(z.strictObject({ which: z.enum(["a", "b"]) }), {})).toMatchObject({
      faults: [{ message: "is missing" }],
    });
  });

  test("all of them at once", () => {
    expect(said({ name: "", size: 9, sise: 3 })).toEqual([
      "name must not be empty",
      "size must be at most 5",
      "sise is not a known key, did you mean size?",
    ]);
  });

  test("a stranger with very many keys is answered shortly", () => {
    const value = Object.fromEntries(Array.from({ length: 5000 }, (_, i) => [`k${i}`, i]));
    expect(said(value).length).toBe(50);
  });

  test("what fits comes back as the schema reads it", () => {
    expect(check(schema, {})).toEqual({ ok: true, value: { inner: { needed: 1 }, must: "a" } });
  });

  test("paths", () => {
    expect(pathText(["station", 1, "rate"])).toBe("station[1].rate");
    expect(pathText([])).toBe("");
  });
});
