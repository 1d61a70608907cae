/** What SQLite leaves of a code in pages that stay in use: `secure_delete` does not reach it, and an erasure must. */
import { expect, test } from "vitest";
import { openTables } from "../../../recorder/store/tables.ts";
import { ERASED, filesWith, fill, NOTICE, ofOthers } from "./erasing.ts";
import { plantTraces } from "./planted-traces.ts";
import { storePath } from "./store-path.ts";

const WISH = { trainee: ERASED, ended_before: null, asked_at: NOTICE.envelope.at, performed_by: null };

test("a code in the unused middle of pages goes, and nothing else of them does", { timeout: 60_000 }, () => {
  const path = storePath();
  const filled = openTables(path);
  fill(filled, 300);
  const others = ofOthers(filled);
  filled.methods.close();
  expect(plantTraces(path, ERASED)).toBeGreaterThan(10);

  const { methods, database } = openTables(path);
  const { erasure } = methods.beginErasure(WISH).erasure;
  for (let more = true; more; ) ({ more } = methods.eraseSets(erasure, NOTICE, null));
  for (let after: number | null = null; ; ) {
    ({ after } = methods.eraseClaims(erasure, after));
    if (after === null) break;
  }
  while (methods.sweep());
  // All is deleted, and still it is there.
  expect(filesWith(path, ERASED)).toEqual([path]);
  for (let after: number | null = null; ; ) {
    const next = methods.eraseTraces(erasure, after);
    if (next === "busy") throw new Error("nobody else reads this file");
    if (next === null) break;
    after = next;
  }
  expect(methods.endErasure(erasure, NOTICE.envelope.at)).not.toBeNull();
  while (methods.sweep());
  expect(filesWith(path, ERASED)).toEqual([]);
  expect(database.pragma("integrity_check")).toBe("ok");
  methods.close();
  const after = openTables(path);
  expect(ofOthers(after)).toEqual(others);
  after.methods.close();
  expect(filesWith(path, ERASED)).toEqual([]);
});
