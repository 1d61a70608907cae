/** What a start makes of the store, whatever is in it. */
import { expect, it } from "vitest";
import type { SetToKeep, Store, UnfinishedSet } from "../../../recorder/ports.ts";
import type { Aside } from "../../../recorder/run/put-aside.ts";
import type { StationLoop } from "../../../recorder/run/station-loop.ts";
import { takeUp } from "../../../recorder/run/take-up.ts";
import type { StationInput } from "../../../recorder/station/exchange.ts";
import { StoreFailure } from "../../../recorder/store/failure.ts";
import { KEPT } from "../station/bench.ts";
import { inventedSet, uuidOf } from "../store/invented.ts";
import { unfinishedHold } from "./unfinished-hold.ts";

/** The hold, as the set of that number. */
function running(number: number): UnfinishedSet {
  const { log } = unfinishedHold();
  const set_id = uuidOf(number);
  return { set_id, station: "leg-press", log: { ...log, arm: { ...(log.arm as object), set_id } } };
}

const NOTHING: Aside = { sets: [], unreadable: [] };

function bench(unfinished: readonly UnfinishedSet[], aside: Aside = NOTHING) {
  const newest = inventedSet(7);
  const kept: SetToKeep[] = [];
  const forgotten: string[] = [];
  const said: string[] = [];
  const taken: StationInput[] = [];
  const say = (_fields: object, message: string): void => void said.push(message);
  const desk = { last_ended_at: null as string | null };
  const loop = {
    id: "leg-press",
    station: { desk },
    take(input: StationInput) {
      taken.push(input);
      if (input.kind === "took-up") desk.last_ended_at = input.last_ended_at;
    },
  } as unknown as StationLoop;
  const store = {
    store_id: KEPT.store,
    calibrationInForce: async () => null,
    inspect: async () => null,
    latest: async () => newest,
    unfinished: async () => unfinished,
    forget: async (set_id: string) => {
      forgotten.push(set_id);
      if (set_id === uuidOf(66)) throw new StoreFailure("disk-full", "the disk is full");
    },
  } as unknown as Store;
  const ports = {
    store,
    aside,
    keeper: { keep: (set: SetToKeep) => void kept.push(set) },
    publisher: { topic: () => "tidemark/hall/station/leg-press/set" },
    recorder: KEPT.recorder,
    boot: KEPT.boot,
    log: { info: say, error: say } as never,
  };
  return { kept, forgotten, said, taken, start: () => takeUp(new Map([[loop.id, loop]]), ports) };
}

it("a set nobody here can read stays in the store, is said in a sentence, and stops nothing", async () => {
  const whole = running(1);
  const { log } = whole;
  const unknown = { ...running(2), log: { ...log, events: [{ before: 3, event: { kind: "of-tomorrow", at_us: 1 } }] } };
  const newer = { ...running(3), log: { ...log, arm: { arm_version: 2 } } };
  // Its beginning is well formed, and yet no instant can be made of it.
  const absurd = { ...running(4), log: { ...log, arm: { ...(log.arm as object), wall_ms: 1e300 } } };
  const { kept, forgotten, said, start } = bench([unknown, newer, absurd, whole]);
  await start();
  expect(kept.map(({ message }) => [message.set_id, message.stop_reason])).toEqual([[uuidOf(1), "interrupted"]]);
  expect(forgotten).toEqual([]);
  expect(said).toEqual([
    "A set that was running stays in the store as it is: its input log holds an event that this version cannot read.",
    "A set that was running stays in the store as it is: its input log has no beginning that this version can read.",
    "A set that was running stays in the store as it is: taking it up failed.",
    "A set that was running when the recorder went away is kept as interrupted.",
  ]);
});

it("a set that came to nothing is forgotten, and a disk that does not let us stops nothing", async () => {
  const nothing = (number: number): UnfinishedSet => ({
    ...running(number),
    log: { arm: null, at_us: [], counts: [], events: [] },
  });
  const { kept, forgotten, start } = bench([nothing(66), nothing(2), running(1)]);
  await start();
  expect(forgotten).toEqual([uuidOf(66), uuidOf(2)]);
  expect(kept).toHaveLength(1);
});

it("a station knows when its newest set ended, and of one taken up as well", async () => {
  const { taken, kept, start } = bench([running(1)]);
  await start();
  expect(taken).toEqual([
    { kind: "took-up", last_ended_at: inventedSet(7).at },
    { kind: "took-up", last_ended_at: kept[0]?.message.at },
  ]);
});

it("a set that lies aside is a station's newest only where none that is kept ended after it", async () => {
  const whole = (number: number) => ({ message: inventedSet(number), setup: "", log: running(1).log });
  // `latest` is 7.
  const { taken, kept, start } = bench([], { sets: [whole(3), whole(9)], unreadable: [] });
  await start();
  expect(kept).toHaveLength(2);
  expect(taken).toEqual([7, 9].map((number) => ({ kind: "took-up", last_ended_at: inventedSet(number).at })));
});

it("a set that was put aside is tried again, whole, and its checkpoints do not make another of it", async () => {
  const whole = { message: inventedSet(1), setup: "seat=3", log: running(1).log };
  const aside = { sets: [whole], unreadable: ["/var/lib/tidemark/torn.json"] };
  const { kept, said, start } = bench([running(1), running(2)], aside);
  await start();
  expect(kept.map(({ message }) => [message.set_id, message.stop_reason])).toEqual([
    [uuidOf(1), inventedSet(1).stop_reason],
    [uuidOf(2), "interrupted"],
  ]);
  expect(kept[0]).toEqual({ ...whole, topic: "tidemark/hall/station/leg-press/set" });
  expect(said).toEqual([
    "A set that could not be kept earlier is tried again.",
    "A file beside the store holds no set that can be read.",
    "A set that was running when the recorder went away is kept as interrupted.",
  ]);
});
