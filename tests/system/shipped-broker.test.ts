/**
 * Each shipped broker configuration on the real broker: the table of its page cell by cell, by what is delivered and not by
 * what is granted (mosquitto grants a subscription that its list never serves), and the recorder as its user.
 */
import { randomUUID } from "node:crypto";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { connectAsync, type ErrorWithReasonCode, type MqttClient } from "mqtt";
import { afterEach, describe, expect, test } from "vitest";
import { RECORDER_TOPICS, STATION_TOPICS } from "../../protocol/messages/topics.ts";
import { endAll, later, until } from "../recorder/mqtt/loopback.ts";
import { configurationIn, startGym, stopAll } from "../recorder/run/gym-service.ts";
import { FILES, passwordOf, type Rights, type Row, rightsOfThePage, ShippedBroker } from "./shipped-broker.ts";

afterEach(endAll);

const { columns, rows } = rightsOfThePage();
const NOBODY = "nobody named";
const USERS = columns.filter((column) => column !== NOBODY);
const NOT_AUTHORISED = 0x87;
const FENCE = "tidemark/north-hall/recorder/hall-box/presence";

async function started(file: (typeof FILES)[number]): Promise<ShippedBroker> {
  const broker = new ShippedBroker();
  later(() => broker.mosquitto.remove());
  return broker.start(file, USERS);
}

function connected(broker: ShippedBroker, url: string, column: string): Promise<MqttClient> {
  const ca = broker.ca_file === undefined ? {} : { ca: readFileSync(broker.ca_file) };
  const user = column === NOBODY ? {} : { username: column, password: passwordOf(column) };
  return connectAsync(url, { ...ca, ...user, protocolVersion: 5, reconnectPeriod: 0 }, false);
}

interface Client {
  readonly column: string;
  readonly mqtt: MqttClient;
  readonly heard: Set<string>;
}

async function client(broker: ShippedBroker, url: string, column: string): Promise<Client> {
  const mqtt = await connected(broker, url, column);
  later(() => mqtt.endAsync(true));
  const heard = new Set<string>();
  mqtt.on("message", (topic, payload) => heard.add(`${topic} ${payload}`));
  await mqtt.subscribeAsync("#", { qos: 1 });
  return { column, mqtt, heard };
}

/** The broker's word on a publish: taken, or not allowed. */
const taken = ({ mqtt }: Client, topic: string, payload: string, retain: boolean): Promise<boolean> =>
  mqtt.publishAsync(topic, payload, { qos: 1, retain }).then(
    () => true,
    (error: ErrorWithReasonCode) => {
      if (error.code !== NOT_AUTHORISED) throw error;
      return false;
    },
  );

interface Place {
  readonly topic: string;
  readonly retain: boolean;
  rights(column: string): Rights;
}

/** Every topic the rows stand for; those of responses once for each name there is. */
function places(): Place[] {
  const filled = (topic: string): string =>
    topic
      .replace("{site}", "north-hall")
      .replace("{station}", "leg-press")
      .replace("{recorder}", "hall-box")
      .replace("{verb}", "status")
      .replace("{request_id}", "0f3a");
  const own = (row: Row): Row | undefined =>
    rows.find(({ topic }) => topic === row.topic.replace("{another's name}", "{own name}"));
  return rows.flatMap((row) => {
    const retain = /\/(state|sensor|latest-set)$/.test(row.topic);
    if (row.topic.includes("{own name}")) return [];
    if (!row.topic.includes("{another's name}")) {
      return [{ topic: filled(row.topic), retain, rights: (column: string) => row.rights[column] as Rights }];
    }
    return USERS.map((name) => ({
      topic: filled(row.topic.replace("{another's name}", name)),
      retain,
      rights: (column: string) => (column === name ? own(row) : row)?.rights[column] as Rights,
    }));
  });
}

/** All that was published before has reached whoever it reaches: the broker hands on to each in the order it took. */
async function fenced(recorder: Client, clients: readonly Client[]): Promise<void> {
  const word = randomUUID();
  await taken(recorder, FENCE, word, false);
  for (const { heard } of clients) await until(() => expect(heard).toContain(`${FENCE} ${word}`));
}

test("the table has a row for every topic there is", () => {
  const topics = rows.map(({ topic }) => topic);
  for (const name of Object.keys(STATION_TOPICS)) expect(topics).toContain(`tidemark/{site}/station/{station}/${name}`);
  for (const name of Object.keys(RECORDER_TOPICS))
    expect(topics).toContain(`tidemark/{site}/recorder/{recorder}/${name}`);
  for (const owner of ["station/{station}", "recorder/{recorder}"]) {
    for (const group of ["read", "train", "service"])
      expect(topics).toContain(`tidemark/{site}/${owner}/request/${group}/{verb}`);
    for (const name of ["own", "another's"])
      expect(topics).toContain(`tidemark/{site}/${owner}/response/{${name} name}/{request_id}`);
  }
});

describe.each(FILES)("%s", (file) => {
  test("does what the table says, at every listener, live and retained", async () => {
    const broker = await started(file);
    const anonymous = file === "loopback.conf";
    for (const url of broker.urls) {
      const present = anonymous ? columns : USERS;
      const clients: Client[] = [];
      for (const column of present) clients.push(await client(broker, url, column));
      const recorder = clients.find(({ column }) => column === "recorder") as Client;
      const wanted = new Map(present.map((column) => [column, new Set<string>()]));
      const retained = new Map(present.map((column) => [column, new Set<string>()]));
      for (const { topic, retain, rights } of places()) {
        for (const writer of clients) {
          const payload = `from ${writer.column}`;
          expect([writer.column, topic, await taken(writer, topic, payload, retain)]).toEqual([
            writer.column,
            topic,
            rights(writer.column).write,
          ]);
          if (!rights(writer.column).write) continue;
          for (const column of present) {
            if (!rights(column).read) continue;
            wanted.get(column)?.add(`${topic} ${payload}`);
            if (retain) retained.get(column)?.add(`${topic} ${payload}`);
          }
        }
      }
      await fenced(recorder, clients);
      const got = (of: Client): string[] => [...of.heard].filter((one) => / from /.test(one)).sort();
      for (const one of clients)
        expect([one.column, got(one)]).toEqual([one.column, [...(wanted.get(one.column) ?? [])].sort()]);

      const late: Client[] = [];
      for (const column of present) late.push(await client(broker, url, column));
      await fenced(recorder, late);
      for (const one of late)
        expect([one.column, got(one)]).toEqual([one.column, [...(retained.get(one.column) ?? [])].sort()]);
      for (const { mqtt } of [...clients, ...late]) await mqtt.endAsync(true);
    }
  });

  test("turns away a wrong password, and whoever has none where the page says so", async () => {
    const broker = await started(file);
    for (const url of broker.urls) {
      const ca = broker.ca_file === undefined ? {} : { ca: readFileSync(broker.ca_file) };
      const options = { ...ca, protocolVersion: 5, reconnectPeriod: 0 } as const;
      await expect(
        connectAsync(url, { ...options, username: "display", password: "a guess" }, false),
      ).rejects.toMatchObject({
        code: NOT_AUTHORISED,
      });
      const nameless = connectAsync(url, options, false);
      if (file === "loopback.conf") await (await nameless).endAsync(true);
      else await expect(nameless).rejects.toMatchObject({ code: NOT_AUTHORISED });
    }
  });

  test("lets the recorder do all that it does, and the roles ask what is theirs", async () => {
    const broker = await started(file);
    const [url = ""] = broker.urls;
    const folder = mkdtempSync(join(tmpdir(), "tidemark-shipped-"));
    later(() => rmSync(folder, { recursive: true }));
    const password_file = join(folder, "password");
    writeFileSync(password_file, `${passwordOf("recorder")}\n`, { mode: 0o600 });
    const hall = configurationIn(folder);
    const base = { ...hall, station: hall.station.filter(({ id }) => id === "leg-press") };
    const display = await client(broker, url, "display");
    const trainer = await client(broker, url, "trainer");
    later(stopAll);
    const running = await startGym({
      ...base,
      broker: { url, username: "recorder", password_file, root: "tidemark", ca_file: broker.ca_file },
      control: { ...base.control, mqtt: ["read", "train", "service"] },
    });
    await running.day();
    await running.service.settled();
    const heardBy = ({ heard }: Client, part: string): string[] => [...heard].filter((one) => one.includes(part));
    const parts = Object.keys(STATION_TOPICS).map((name) => `/leg-press/${name} `);
    const silent = (): string[] => parts.filter((part) => heardBy(display, part).length === 0);
    await until(() => expect(silent()).toEqual([]));
    const at = `tidemark/${base.site}/recorder/${base.recorder}`;
    const ask = async (who: Client, group: string, verb: string): Promise<boolean> => {
      const request = { request_id: randomUUID(), asker: who.column };
      if (!(await taken(who, `${at}/request/${group}/${verb}`, JSON.stringify(request), false))) return false;
      await until(() => expect(heardBy(who, `${at}/response/${who.column}/${request.request_id} `)).toHaveLength(1));
      return true;
    };
    expect(await ask(display, "read", "status")).toBe(true);
    expect(await ask(display, "train", "amend")).toBe(false);
    expect(await ask(trainer, "train", "amend")).toBe(true);
    expect(heardBy(trainer, `/response/display/`)).toEqual([]);
    expect(await running.ask("status")).toMatchObject({
      result: { broker: { connected: true }, health: { broker: { trouble: null } } },
    });
    expect(running.errors).toEqual([]);
  });
});
