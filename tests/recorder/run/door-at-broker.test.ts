/** Requests over MQTT through the whole recorder, at its embedded broker. */
import { randomUUID } from "node:crypto";
import { connectAsync } from "mqtt";
import { afterEach, describe, expect, test } from "vitest";
import type { Configuration } from "../../../recorder/configuration/schema.ts";
import { endAll, later, type Subscriber, subscriber, until } from "../mqtt/loopback.ts";
import { type GymService, midSet, startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

afterEach(async () => {
  await endAll();
  await stopAll();
});

const HALL = "tidemark/paper-hall";
const STATION = `${HALL}/station/knee-extension`;
const RECORDER = `${HALL}/recorder/paper-box`;

const opened = (...mqtt: Configuration["control"]["mqtt"]): Configuration => {
  const configuration = placed();
  return { ...configuration, control: { ...configuration.control, mqtt } };
};

type Answer = Record<string, unknown> & { readonly result?: Record<string, unknown> };

/** A tablet: asks, and hears its own answers. */
async function tablet(running: GymService, asker = "tablet") {
  const ears: Subscriber = await subscriber(running.port, `${HALL}/+/+/response/${asker}/#`);
  const heard = (request_id: string): Answer[] =>
    ears.heard.filter(({ topic }) => topic.endsWith(`/${request_id}`)).map(({ payload }) => JSON.parse(payload));
  const send = (topic: string, payload: object, retain = false): Promise<unknown> =>
    ears.client.publishAsync(topic, JSON.stringify({ asker, ...payload }), { qos: 1, retain });
  const ask = async (owner: string, verb: string, fields: object = {}): Promise<Answer> => {
    const request_id = randomUUID();
    await send(`${owner}/request/${verb}`, { request_id, ...fields });
    await until(() => expect(heard(request_id)).toHaveLength(1));
    return heard(request_id)[0]!;
  };
  return { ask, send, heard, ears };
}

describe("what is answered", () => {
  test("a station and the recorder are read, and answers come where the asker reads, not retained", async () => {
    const running = await startGym(placed());
    const { ask, ears } = await tablet(running);
    const one = await ask(STATION, "read/status");
    expect(one).toMatchObject({ ok: true, recorder: "paper-box", simulated: true, schema_version: 1 });
    expect(one.result?.["stations"]).toMatchObject([{ station: "knee-extension" }]);
    const all = await ask(RECORDER, "read/status");
    expect(all.result?.["stations"]).toHaveLength(3);
    expect(ears.heard.map(({ topic }) => topic.replace(/[^/]+$/, ""))).toEqual([
      `${STATION}/response/tablet/`,
      `${RECORDER}/response/tablet/`,
    ]);
    const late = await subscriber(running.port, `${HALL}/+/+/response/#`);
    await ask(RECORDER, "read/tags-of-nobody");
    await until(() => expect(late.heard).toHaveLength(1));
  });

  test("a set is begun and ended at its station's topic", async () => {
    const running = await startGym(opened("read", "train"));
    await running.next(({ topic, message }) => topic === "live" && "force_N" in message && message.force_N !== null);
    const { ask } = await tablet(running);
    let begun = await ask(STATION, "train/begin", { trainee: "wren-21", performed_by: "coach-1" });
    while (begun["ok"] !== true) {
      await running.next(({ topic }) => topic === "live");
      begun = await ask(STATION, "train/begin", { trainee: "wren-21", performed_by: "coach-1" });
    }
    expect(begun.result).toMatchObject({ station: "knee-extension", trainee: "wren-21" });
    expect(await ask(STATION, "train/end")).toMatchObject({ ok: true, result: { is_set: false } });
  });

  test("a plan is saved and read at its station's topic, and is of no other station", async () => {
    const running = await startGym(opened("read", "train"));
    const { ask } = await tablet(running);
    const plan = { trainee: "wren-21", sides: ["left", "right"], setup: { seat: "4" }, performed_by: "coach-1" };
    const saved = await ask(STATION, "train/plan-save", plan);
    expect(saved).toMatchObject({ ok: true, result: { changed: true, plan: { ...plan, station: "knee-extension" } } });
    expect(await ask(STATION, "read/plan", { trainee: "wren-21" })).toMatchObject({
      ok: true,
      result: { station: "knee-extension", plans: [saved.result?.["plan"]], more: false },
    });
    expect(await ask(`${HALL}/station/pull-down`, "read/plan", {})).toMatchObject({ ok: true, result: { plans: [] } });
  });

  test("a group the configuration does not list is not even heard", async () => {
    const running = await startGym(placed());
    const { send, heard, ask } = await tablet(running);
    const request_id = randomUUID();
    await send(`${STATION}/request/train/begin`, { request_id });
    // What comes after it is answered, so it was not late.
    await ask(STATION, "read/status");
    expect(heard(request_id)).toEqual([]);
  });

  test("what stands at the broker when we connect is not carried out", async () => {
    const running = await startGym(opened("read", "train"));
    const { send, heard, ask } = await tablet(running);
    const set_id = await midSet(running);
    const request_id = randomUUID();
    const door = new URL(running.service.broker);
    const other = await connectAsync(door.href.replace(/\/$/, ""));
    later(() => other.end(true));
    // The bus is thrown off, and hears the retained request when it is back.
    const thief = await connectAsync(door.href.replace(/\/$/, ""), {
      clientId: "tidemark.paper-hall.paper-box",
      reconnectPeriod: 0,
    });
    await send(`${STATION}/request/train/end`, { request_id }, true);
    await thief.endAsync(true);
    await until(async () => {
      const status = await running.ask("status");
      expect(status).toMatchObject({ result: { broker: { connected: true, unheard_requests: { retained: 1 } } } });
    });
    const { result } = await ask(STATION, "read/status");
    expect(result?.["stations"]).toMatchObject([{ state: { set_id, phase: "working" } }]);
    expect(heard(request_id)).toEqual([]);
  });
});
