/** A small computer without a battery: its wall clock starts in 1970, jumps while somebody trains, and jumps back. */
import { afterEach, expect, it } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { SetsPage } from "../../../recorder/ports.ts";
import type { HostClock } from "../../../recorder/run/clock.ts";
import { putAside } from "../../../recorder/run/put-aside.ts";
import { flatOut } from "../../../recorder/simulated-gym/pace.ts";
import { inventedSet, toKeep } from "../store/invented.ts";
import { type GymService, midSet, startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

afterEach(stopAll);

const TODAY_MS = Date.parse("2026-11-25T10:00:00.000Z");
const DECADES_MS = TODAY_MS;

/** The host's own monotonic clock, and a wall clock to play with. */
function clock() {
  const wall = { from_ms: 0, synced: false };
  const host: HostClock = {
    now() {
      const ms = performance.now();
      return { ms, wall_ms: Math.round(wall.from_ms + ms), clock_synced: wall.synced };
    },
  };
  return { wall, host };
}

async function endedSet(running: GymService, set_id: string): Promise<SetMessage> {
  const kept = running.next(({ topic, message }) => topic === "set" && (message as SetMessage).set_id === set_id);
  await running.ask("end", { station: "knee-extension" });
  return (await kept).message as SetMessage;
}

const lastOf = (set: SetMessage): number => Date.parse(set.at) - Date.parse(set.started_at);

it("to now and back in the middle of a set: its length is the board's, its date that of its beginning, and it says so", async () => {
  const { wall, host } = clock();
  const running = await startGym(placed(), true, flatOut(), () => {}, host);
  const set_id = await midSet(running);
  wall.from_ms = DECADES_MS;
  await running.next(({ topic }) => topic === "live");
  wall.from_ms = 0;
  const set = await endedSet(running, set_id);
  expect(new Date(set.started_at).getUTCFullYear()).toBe(1970);
  expect(set.clock_synced).toBe(false);
  // Its instants lie as far apart as the board says the set was long, and no decades.
  expect(Math.abs(lastOf(set) / 1000 - set.duration_s)).toBeLessThan(2);
  expect(set.duration_s).toBeLessThan(300);
});

it("once somebody vouches for it, the set of 1970 is of today: a revision, announced, and last in order", async () => {
  const { wall, host } = clock();
  const running = await startGym(placed(), true, flatOut(), () => {}, host);
  const first = await endedSet(running, await midSet(running));
  const corrected = running.next(({ topic, message }) => topic === "set" && (message as SetMessage).revision === 2);
  Object.assign(wall, { from_ms: TODAY_MS, synced: true });
  const revised = (await corrected).message as SetMessage;
  expect(revised).toEqual({
    ...first,
    at: revised.at,
    started_at: revised.started_at,
    clock_synced: true,
    revision: 2,
    set_seq: 2,
  });
  expect(Math.abs(Date.parse(revised.at) - host.now().wall_ms)).toBeLessThan(10_000);
  expect(lastOf(revised)).toBe(lastOf(first));

  // Today's sets are today's: the corrected one counts, and the next is the second of the day.
  const second = await endedSet(running, await midSet(running));
  expect([second.set_of_day, second.set_seq, second.clock_synced]).toEqual([2, 3, true]);
  expect(second.rested_s).toBeGreaterThanOrEqual(0);
  const asked = await running.ask("sets");
  const { sets } = (asked.ok ? asked.result : null) as SetsPage;
  expect(sets.map(({ set_seq, revision }) => [set_seq, revision])).toEqual([
    [2, 2],
    [3, 1],
  ]);
});

it("a set found from an earlier run keeps its date: when it ended by this run's clock nobody knows", async () => {
  const { wall, host } = clock();
  const configuration = placed();
  const found = inventedSet(1, {
    station: "knee-extension",
    started_at: new Date(20_000).toISOString(),
    at: new Date(60_000).toISOString(),
    clock_synced: false,
  });
  await putAside(configuration.store.path, toKeep(found));
  const running = await startGym(configuration, true, flatOut(), () => {}, host);
  const own = await endedSet(running, await midSet(running));
  const corrected = running.next(({ topic, message }) => topic === "set" && (message as SetMessage).revision === 2);
  Object.assign(wall, { from_ms: TODAY_MS, synced: true });
  expect(((await corrected).message as SetMessage).set_id).toBe(own.set_id);
  const asked = await running.ask("sets");
  const { sets } = (asked.ok ? asked.result : null) as SetsPage;
  expect(sets.map(({ set_id, at, revision }) => [set_id, at, revision])).toEqual([
    [found.set_id, found.at, 1],
    [own.set_id, expect.stringMatching(/^2026-/), 2],
  ]);
});
