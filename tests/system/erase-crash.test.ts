/**
 * Trainees erased from the built recorder, with mosquitto beside it, and kill -9 at moments drawn from a fixed seed, in the start
 * as well: in the end each erasure is whole, nothing of others has changed, every reader was told of every set that is gone,
 * and no file, no retained message and no line of the log names who was erased. TIDEMARK_LONG=1: ten times the deaths.
 */
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { connectAsync } from "mqtt";
import { afterAll, beforeAll, expect, onTestFinished, test } from "vitest";
import type { SetMessage } from "../../protocol/messages/set.ts";
import { type EraseResult, eraseResultSchema } from "../../protocol/requests/care-results.ts";
import type { Verb } from "../../protocol/requests/verbs.ts";
import { ask, type Reply } from "../../recorder/cli/client.ts";
import type { SetsPage } from "../../recorder/ports.ts";
import { openTables, type Tables } from "../../recorder/store/tables.ts";
import { numbers, uuidOf } from "../recorder/store/invented.ts";
import { plantTraces } from "../recorder/store/planted-traces.ts";
import { Ears } from "./ears.ts";
import {
  aroundStaying,
  filesWith,
  fillFor,
  fillHall,
  GOING,
  naming,
  STATIONS,
  setsOf,
  staying,
  topicOf,
  wholeCode,
} from "./erased-hall.ts";
import { Mosquitto } from "./mosquitto.ts";
import { portless } from "./portless.ts";
import { RecorderProcess } from "./recorder-process.ts";

const LONG = process.env["TIDEMARK_LONG"] === "1";
const DEATHS_EACH = LONG ? 60 : 6;
const SEED = 11;

const folder = mkdtempSync(join(tmpdir(), "tidemark-erased-"));
const broker = new Mosquitto();
beforeAll(() =>
  broker.start({
    users: { box: "b-secret", display: "d-secret" },
    acl: "user box\ntopic readwrite #\nuser display\ntopic read #\n",
  }),
);
afterAll(async () => {
  await broker.remove();
  rmSync(folder, { recursive: true, force: true });
});

/** A recorder of two stations without boards, on a store that was filled; its files, but the store's, lie elsewhere. */
function hall(name: string, fill: (tables: Tables) => void) {
  const place = join(folder, name);
  const at = (file: string): string => join(place, file === "tidemark.db" ? "store/tidemark.db" : file);
  for (const directory of ["store", "control"]) mkdirSync(join(place, directory), { recursive: true });
  writeFileSync(at("password"), "b-secret\n", { mode: 0o600 });
  const text = portless(at, [
    `url = "mqtt://127.0.0.1:${broker.port}"`,
    'username = "box"',
    `password_file = "${at("password")}"`,
  ]);
  const [head, station] = text.split("[[station]]") as [string, string];
  writeFileSync(
    at("tidemark.toml"),
    [head, station, station.replaceAll('"row"', '"press"').replace("no-port", "none")].join("[[station]]"),
  );
  const store = at("tidemark.db");
  const tables = openTables(store);
  fill(tables);
  const recorder = new RecorderProcess(at("tidemark.toml"));
  onTestFinished(async () => void (await recorder.stop("SIGKILL")));
  const asked = (verb: Verb, args: object = {}): Promise<Reply> => ask({ path: at("control/b.sock"), verb, args });
  /** Until it is not refused, as while it starts, or while something else is under way. */
  const answered = async <Result>(verb: Verb, args: object = {}): Promise<Result> => {
    for (;;) {
      const reply = await asked(verb, args);
      if (reply.ok) return reply.result as Result;
      if (!recorder.runs) throw new Error(`it ended by itself: ${recorder.log.slice(-2000)}`);
      await pause(20);
    }
  };
  return { tables, store, directory: join(place, "store"), recorder, asked, answered };
}

/** How far an erasure had come when the process died, by a copy of what it left. */
function leftOf(store: string, trainee: string): { readonly sets: number; readonly open: boolean } {
  const copy = join(folder, "looked-at.db");
  for (const end of ["", "-wal"]) {
    rmSync(`${copy}${end}`, { force: true });
    if (existsSync(`${store}${end}`)) copyFileSync(`${store}${end}`, `${copy}${end}`);
  }
  const tables = openTables(copy);
  const left = { sets: setsOf(tables, trainee).length, open: tables.methods.erasures().open.length > 0 };
  tables.methods.close();
  return left;
}

/** All that stands at the broker, once the stations, the recorder itself and the newest set of both stand there. */
async function retained(): Promise<ReadonlyMap<string, string>> {
  const client = await connectAsync(`mqtt://127.0.0.1:${broker.port}`, { username: "display", password: "d-secret" });
  const stands = new Map<string, string>();
  const ended = new Promise<void>((resolve) => {
    client.on("message", (topic, payload) => {
      stands.set(topic, payload.toString("utf8"));
      const names = [...stands.keys()].map((one) => one.split("/").at(-1));
      const both = (name: string): boolean => names.filter((one) => one === name).length === STATIONS.length;
      if (both("state") && both("sensor") && both("latest-set") && names.includes("presence")) resolve();
    });
  });
  await client.subscribeAsync("tidemark/#");
  await ended;
  await client.endAsync();
  return stands;
}

test(`three trainees erased through ${3 * DEATHS_EACH} deaths: they are gone everywhere, and nobody else has changed`, {
  timeout: LONG ? 1_800_000 : 240_000,
}, async () => {
  const SETS = 1600;
  const { tables, store, directory, recorder, asked, answered } = hall("killed", (empty) =>
    fillHall(empty, { sets: SETS, readings: 400, unannounced: 60 }),
  );
  const named = naming(tables);
  const others = staying(tables, named);
  const around = aroundStaying(tables);
  const gone = new Map(GOING.map((trainee) => [trainee, setsOf(tables, trainee)]));
  expect(others.size).toBeGreaterThan(300);
  tables.methods.close();
  plantTraces(store, ...GOING);
  const ears = new Ears(broker.port, "display", "d-secret", [topicOf("+"), topicOf("+").replace(/set$/, "latest-set")]);
  onTestFinished(() => ears.close());
  await ears.ready;

  await recorder.start();
  await answered("status");
  expect([...(await retained()).values()].join()).toMatch(wholeCode("QT-[123]"));
  const next = numbers(SEED);
  const deaths = { before: 0, amid_sets: 0, after_sets: 0, done: 0 };
  for (const trainee of GOING) {
    expect(filesWith(directory, trainee)).not.toEqual([]);
    writeFileSync(`${store}.unkept-${uuidOf(90_000)}.json`, JSON.stringify({ half: trainee }));
    for (let death = 0; death < DEATHS_EACH; death++) {
      if (death > 0) await recorder.start();
      // In its start the sets go before anybody is answered; what is left to do goes on once the stations run.
      const asks = death % 2 === 0;
      if (asks) {
        await answered("status");
        // The broken line of whoever asked is no matter, nor that it may be under way already.
        void asked("erase", { trainee, performed_by: "tech-2" });
      }
      // The first ones early, while there are sets to go.
      await pause(next() * (death === 0 ? 150 : asks ? 600 : 1200));
      await recorder.stop("SIGKILL");
      const { sets, open } = leftOf(store, trainee);
      const whole = sets === gone.get(trainee)?.length;
      deaths[!open ? (whole ? "before" : "done") : sets > 0 ? "amid_sets" : "after_sets"] += 1;
    }
    await recorder.start();
    const began_ms = performance.now();
    const result = eraseResultSchema.parse(await answered<EraseResult>("erase", { trainee, performed_by: trainee }));
    expect(performance.now() - began_ms).toBeLessThan(30_000);
    expect(result.still_held.join()).not.toContain(".db.version");
    expect(filesWith(directory, trainee)).toEqual([]);
  }

  const told = (): Set<string> =>
    new Set(
      ears.heard
        .filter(({ topic, payload }) => topic.endsWith("/set") && payload.includes('"erased":true'))
        .map(({ payload }) => (JSON.parse(payload) as SetMessage).set_id),
    );
  const all = [...gone.values()].flat().sort();
  await expect.poll(() => told().size, { timeout: 30_000 }).toBe(all.length);
  expect([...told()].sort()).toEqual(all);
  const stands = await retained();
  const newest = new Map<string, SetMessage>();
  for (let from_set_seq = 1, more = true; more; ) {
    const page = await answered<SetsPage>("sets", { from_set_seq, limit: 500 });
    for (const set of page.sets) newest.set(set.station, set);
    ({ more } = page);
    from_set_seq = Math.max(...[...page.sets, ...(page.erased ?? [])].map(({ set_seq }) => set_seq)) + 1;
  }
  for (const station of STATIONS) {
    expect(JSON.parse(stands.get(topicOf(station).replace(/set$/, "latest-set"))!)).toEqual(newest.get(station));
  }
  expect((await recorder.stop()).code).toBe(0);

  const texts = [...stands.values()].join();
  expect(recorder.log).toContain("A trainee was erased.");
  for (const trainee of GOING) {
    expect(filesWith(directory, trainee)).toEqual([]);
    expect(recorder.log).not.toMatch(wholeCode(trainee));
    expect(texts).not.toMatch(wholeCode(trainee));
  }
  for (const set_id of all) expect(texts.includes(set_id)).toBe(false);
  const after = openTables(store);
  onTestFinished(() => after.methods.close());
  expect(after.opened_with).toBeNull();
  expect(after.methods.erasures().open).toEqual([]);
  expect(staying(after, named)).toEqual(others);
  expect(aroundStaying(after)).toEqual(around);
  // In the packed logs, too.
  expect(naming(after)).toEqual(new Set());
  expect(after.methods.outboxSize()).toBe(0);
  const heard = ears.heard.filter(({ payload }) => payload.includes('"erased":true')).length;
  console.log(
    `${all.length} of ${SETS} sets erased through ${3 * DEATHS_EACH} deaths (${JSON.stringify(deaths)}); ` +
      `${heard} tombstones heard, ${heard - all.length} of them again`,
  );
  expect(deaths.amid_sets).toBeGreaterThan(0);
  expect(deaths.amid_sets + deaths.after_sets).toBeGreaterThan(DEATHS_EACH);
});

const quantile = (values: readonly number[], share: number): number =>
  values.toSorted((one, other) => one - other)[Math.floor(share * (values.length - 1))] ?? Number.NaN;

test("while 2,000 sets go, whoever asks for something is answered as before", { timeout: 240_000 }, async () => {
  const { tables, recorder, asked, answered } = hall("asked", (empty) => fillFor(empty, GOING[0], 2100));
  const theirs = setsOf(tables, GOING[0]).length;
  expect(theirs).toBe(2100);
  tables.methods.close();
  await recorder.start();
  await answered("status");

  const took: Record<string, number[]> = {};
  let going = true;
  const asking = async (verb: "status" | "sets", when: () => string): Promise<void> => {
    while (going) {
      const began_ms = performance.now();
      const during = when();
      const reply = await asked(verb, verb === "sets" ? { trainee: "QT-10", limit: 20 } : {});
      expect(reply.ok).toBe(true);
      const key = `${verb}, ${during}`;
      took[key] ??= [];
      took[key].push(performance.now() - began_ms);
      await pause(10);
    }
  };
  let when = "before";
  const clients = [asking("status", () => when), asking("sets", () => when)];
  await pause(3000);
  when = "meanwhile";
  const began_ms = performance.now();
  const result = eraseResultSchema.parse(await answered<EraseResult>("erase", { trainee: GOING[0] }));
  const erased_ms = performance.now() - began_ms;
  going = false;
  await Promise.all(clients);
  expect(result.sets).toBe(theirs);
  const said = Object.entries(took).map(
    ([key, values]) =>
      `${key}: ${values.length} answers, median ${quantile(values, 0.5).toFixed(1)} ms, p99 ${quantile(values, 0.99).toFixed(1)} ms, longest ${Math.max(...values).toFixed(1)} ms`,
  );
  console.log(`${result.sets} sets erased in ${(erased_ms / 1000).toFixed(1)} s. ${said.join(". ")}`);
  for (const verb of ["status", "sets"]) {
    expect(took[`${verb}, meanwhile`]?.length).toBeGreaterThan(5);
    // A loaded machine makes single ones late; a transaction that holds everybody up would make most of them so.
    expect(quantile(took[`${verb}, meanwhile`] ?? [], 0.95)).toBeLessThan(250);
    expect(Math.max(...(took[`${verb}, meanwhile`] ?? []))).toBeLessThan(2000);
  }
});
