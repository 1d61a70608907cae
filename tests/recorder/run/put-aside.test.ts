/** Sets that lie beside the store, when one trainee is erased. */
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname } from "node:path";
import { expect, test } from "vitest";
import { forgetAsideOf, putAside, setsAside } from "../../../recorder/run/put-aside.ts";
import { inventedLog, inventedSet, plainLog, toKeep, uuidOf } from "../store/invented.ts";
import { storePath } from "../store/store-path.ts";

const aside = (number: number, trainee: string, performed_by: string) => {
  const log = { ...inventedLog(number), arm: { station: "leg-press", trainee, performed_by } };
  const { topic: _, ...set } = toKeep(inventedSet(number, { trainee }), "seat=3", log);
  return set;
};

test("theirs go, and of another's that they asked for goes only who asked", async () => {
  const path = storePath();
  const theirs = aside(1, "QT-1", "trainer-1");
  const asked = aside(2, "QT-10", "QT-1");
  const others = aside(3, "QT-10", "trainer-1");
  for (const set of [theirs, asked, others]) await putAside(path, set);
  writeFileSync(`${path}.unkept-${uuidOf(4)}.json`, '{"half":"QT-1"');
  writeFileSync(`${path}.unkept-${uuidOf(5)}.json`, '{"half":"QT-10"');
  writeFileSync(`${path}.unkept-${uuidOf(2)}.json.partial`, readFileSync(`${path}.unkept-${uuidOf(2)}.json`));

  await forgetAsideOf(path, "QT-1");
  const { sets, unreadable } = await setsAside(path);
  const plain = (set: typeof asked, performed_by: string | null) => ({
    ...set,
    log: { ...plainLog(set.log), arm: { ...(set.log.arm as object), performed_by } },
  });
  expect(sets).toEqual([plain(asked, null), plain(others, "trainer-1")]);
  expect(unreadable).toEqual([`${path}.unkept-${uuidOf(5)}.json`]);
  expect(readdirSync(dirname(path))).toHaveLength(3);
});
