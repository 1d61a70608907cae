/** One trainee erased from a recorder at work: stations, broker, store, and what it answers. */
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { connectAsync } from "mqtt";
import { afterEach, expect, test } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { erasedSetSchema } from "../../../protocol/messages/set.ts";
import type { EraseResult } from "../../../protocol/requests/care-results.ts";
import type { SetsPage } from "../../../recorder/ports.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { ERASED, filesWith, fill, NOTICE, ofOthers, theirs } from "../store/erasing.ts";
import { midSet, startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

afterEach(stopAll);

/** What stands at the broker, once so many topics of `latest-set` came and everything that always stands there. */
async function retainedAt(port: number, latest: number): Promise<ReadonlyMap<string, string>> {
  const client = await connectAsync(`mqtt://127.0.0.1:${port}`);
  const heard = new Map<string, string>();
  const count = (name: string): number => [...heard.keys()].filter((topic) => topic.endsWith(`/${name}`)).length;
  const whole = new Promise<void>((resolve) => {
    client.on("message", (topic, payload, { retain }) => {
      if (retain) heard.set(topic, payload.toString("utf8"));
      if (count("state") === 3 && count("sensor") === 3 && count("presence") === 1 && count("latest-set") === latest)
        resolve();
    });
  });
  await client.subscribeAsync("tidemark/#");
  await whole;
  await client.endAsync();
  return heard;
}

const setsOf = async (gym: Awaited<ReturnType<typeof startGym>>): Promise<readonly SetMessage[]> => {
  const outcome = await gym.ask("sets");
  return (outcome as { result: { sets: SetMessage[] } }).result.sets;
};

test("after a day, one of three is erased: nothing retained, shown or kept names them", {
  timeout: 120_000,
}, async () => {
  const configuration = placed();
  const gym = await startGym(configuration);
  await gym.day();
  await gym.service.settled();
  const before = await setsOf(gym);
  const one = before.find(({ trainee }) => trainee !== null)!;
  const code = one.trainee!;
  await gym.ask("tag-save", { tag: "band-77", trainee: code });
  const aside = `${configuration.store.path}.unkept-${one.set_id}.json`;
  writeFileSync(aside, JSON.stringify({ half: code }));
  writeFileSync(`${configuration.store.path}.version-3`, "a copy");
  expect([...(await retainedAt(gym.port, 3)).values()].join()).toContain(`"${code}"`);
  gym.heard.length = 0;

  const outcome = await gym.ask("erase", { trainee: code, performed_by: "tech-2" });
  expect(outcome.ok).toBe(true);
  const result = (outcome as unknown as { result: EraseResult }).result;
  const theirs = before.filter(({ trainee }) => trainee === code);
  expect(result).toMatchObject({ sets: theirs.length, tags: 1, outbox: 0 });
  expect(result.still_held.join()).toContain("tidemark.db.version-3");
  await gym.service.settled();

  expect(await setsOf(gym)).toEqual(before.filter(({ trainee }) => trainee !== code));
  const tombs = gym.heard.filter(({ topic, message }) => topic === "set" && "erased" in message);
  expect(tombs.map(({ message }) => erasedSetSchema.parse(message).set_id).sort()).toEqual(
    theirs.map(({ set_id }) => set_id).sort(),
  );
  const retained = [...(await retainedAt(gym.port, 2)).values()].join();
  expect(retained).not.toContain(`"${code}"`);
  for (const { set_id } of theirs) expect(retained).not.toContain(set_id);
  expect(JSON.stringify((await gym.ask("status")) ?? {})).not.toContain(`"${code}"`);
  expect(filesWith(configuration.store.path, code)).toEqual([]);
  expect(readdirSync(dirname(configuration.store.path)).join()).not.toContain("unkept");
  expect(readFileSync(join(dirname(configuration.store.path), "tidemark.db.version-3"), "utf8")).toBe("a copy");
  expect(gym.errors).toEqual([]);
});

test("nobody is erased while a set of theirs runs, and a code nobody has erases nothing", {
  timeout: 60_000,
}, async () => {
  const gym = await startGym(placed());
  await midSet(gym);
  const refusal = await gym.ask("erase", { trainee: "wren-21" });
  expect(refusal).toMatchObject({ ok: false, error: { code: "busy" } });
  expect(JSON.stringify(refusal)).toContain("knee-extension");
  const nobody = await gym.ask("erase", { trainee: "wren-2" });
  expect(nobody).toMatchObject({ ok: true, result: { sets: 0, plans: 0, tags: 0, outbox: 0, others: 0, claims: 0 } });
});

test("an erasure that died in the middle is gone on with before anything is announced", {
  timeout: 90_000,
}, async () => {
  const configuration = placed();
  const tables = openTables(configuration.store.path);
  fill(tables, 200);
  const gone = theirs(tables);
  const others = ofOthers(tables);
  const { erasure } = tables.methods.beginErasure({
    trainee: ERASED,
    ended_before: null,
    asked_at: NOTICE.envelope.at,
    performed_by: null,
  }).erasure;
  expect(tables.methods.eraseSets(erasure, NOTICE, null).more).toBe(true);
  // As a process leaves it that dies: nothing is tidied up, the log lies beside the file.
  tables.abandon();
  writeFileSync(`${configuration.store.path}.unkept-x.json`, JSON.stringify({ half: ERASED }));

  const gym = await startGym(configuration);
  expect((await gym.ask("sets", { trainee: ERASED })) as object).toMatchObject({ result: { sets: [] } });
  // One piece of work at a time: a second erasure is let in once the first is done.
  let busy = true;
  while (busy) {
    const outcome = await gym.ask("erase", { trainee: "nobody-at-all" });
    busy = !outcome.ok;
    if (busy) await gym.next(({ topic }) => topic === "live");
  }
  const page = (await gym.ask("sets", { from_set_seq: 0, limit: 1000 })) as { result: SetsPage };
  expect(page.result.erased!.map(({ set_id }) => set_id).sort()).toEqual(gone);
  expect(filesWith(configuration.store.path, ERASED)).toEqual([]);
  await gym.service.stop();
  const after = openTables(configuration.store.path);
  expect(ofOthers(after)).toEqual(others);
  after.methods.close();
  expect(gym.errors).toEqual([]);
});
