/** One trainee erased from a recorder at work: stations, broker, store, and what it answers. */
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { connectAsync } from "mqtt";
import { afterEach, expect, test } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { erasedSetSchema } from "../../../protocol/messages/set.ts";
import type { EraseResult } from "../../../protocol/requests/care-results.ts";
import { filesWith } from "../store/erasing.ts";
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
