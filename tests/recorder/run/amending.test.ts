/** A set amended and a tag shown while the recorder runs as it does: the broker, a watcher and the record hear the same. */
import { afterEach, describe, expect, it } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { trainee } from "../../../recorder/simulated-gym/trainees.ts";
import { validateMessage } from "../../protocol/messages/validate.ts";
import { endAll, subscriber, until } from "../mqtt/loopback.ts";
import { type GymService, midSet, startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

afterEach(async () => {
  await endAll();
  await stopAll();
});

const STATION = "knee-extension";
const topic = (name: string): string => `tidemark/paper-hall/station/${STATION}/${name}`;

async function result<T>(running: GymService, verb: Parameters<GymService["ask"]>[0], args: object): Promise<T> {
  const outcome = await running.ask(verb, args);
  if (!outcome.ok) throw new Error(outcome.error.message);
  return outcome.result as T;
}

/** A set that somebody has ended, as kept. */
async function kept(running: GymService): Promise<SetMessage> {
  const set_id = await midSet(running);
  expect(await running.ask("amend", { set_id, pain: 3 })).toMatchObject({ error: { code: "busy" } });
  const said = running.next(({ topic: name }) => name === "set");
  await running.ask("end", { station: STATION, because: "pain" });
  return (await said).message as SetMessage;
}

describe("amend", () => {
  it("announces the revision at the broker, to watchers, and as the newest set", async () => {
    const running = await startGym(placed());
    const listening = await subscriber(running.port, "tidemark/#");
    const first = await kept(running);
    // Nothing is under way any more that would take the revision along.
    await running.service.settled();
    const heard = running.next(({ topic: name }) => name === "set");
    const { set } = await result<{ set: SetMessage }>(running, "amend", { set_id: first.set_id, pain: 4, void: true });
    expect(set).toMatchObject({ set_id: first.set_id, revision: 2, pain: 4, void: true, ended_because: "pain" });
    expect((await heard).message).toEqual(set);
    await running.service.settled();
    const payload = JSON.stringify(set);
    await until(() => expect(listening.newest(topic("latest-set"))).toBe(payload));
    expect(listening.payloads(topic("set"))).toEqual([JSON.stringify(first), payload]);
    expect(validateMessage("set", payload)).toEqual([]);
    expect(await result(running, "set", { set_id: first.set_id })).toEqual({ set });
  });

  it("does not put an amended older set in the place of the newest", async () => {
    const running = await startGym(placed());
    const listening = await subscriber(running.port, "tidemark/#");
    const older = await kept(running);
    const newer = await kept(running);
    const { set } = await result<{ set: SetMessage }>(running, "amend", { set_id: older.set_id, note: "seat 4" });
    await running.service.settled();
    await until(() => expect(listening.payloads(topic("set"))).toHaveLength(3));
    expect(listening.newest(topic("set"))).toBe(JSON.stringify(set));
    expect(listening.newest(topic("latest-set"))).toBe(JSON.stringify(newer));
  });
});

describe("tags over the line", () => {
  it("arm for whom they are linked to, and are counted where a set runs", async () => {
    const running = await startGym(placed());
    const station = running.gym.station(STATION);
    await result(running, "tag-save", { tag: "04/A2", trainee: "wren-21", performed_by: "P-01" });
    expect(await result(running, "tags", {})).toMatchObject({ tags: [{ tag: "04/A2", performed_by: "P-01" }] });
    const phase = (wanted: string) =>
      running.next(
        ({ topic: name, station: at, message }) =>
          at === STATION && name === "state" && (message as { phase: string }).phase === wanted,
      );
    while (true) {
      // Until the rate is known a begin is refused; a tag shown again within 5 s of the board's time is the same one.
      const shown = await result<{ stations: { sensor: { ready: boolean } }[] }>(running, "status", {
        station: STATION,
      });
      if (shown.stations[0]?.sensor.ready) break;
      await running.next(({ topic: name }) => name === "live");
    }
    const armed = phase("armed");
    station.present("04/A2");
    expect((await armed).message).toMatchObject({ trainee: "wren-21" });

    station.sit(trainee("wren-21", 520, { F_per_s: 0.002, R_per_s: 0.0015, rest_multiplier: 15 }, { style: "hold" }));
    await phase("working");
    const counted = async (): Promise<number> => {
      type Status = { stations: { tags_ignored: number }[] };
      const { stations } = await result<Status>(running, "status", { station: STATION });
      return stations[0]?.tags_ignored ?? -1;
    };
    expect(await counted()).toBe(0);
    station.present("band-0143");
    await running.next(({ topic: name, station: at }) => at === STATION && name === "live");
    expect(await counted()).toBe(1);
  });
});
