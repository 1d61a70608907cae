/**
 * kill -9 of the recorder and of the broker, at moments drawn from a fixed seed and at aimed ones, while a simulated gym
 * trains as fast as it can: what was announced is in the store, what is in the store was announced, numbers have no hole,
 * and a set that ran for longer than a checkpoint takes is kept. TIDEMARK_LONG=1 goes on to 1,000 sets.
 */
import { type ChildProcess, fork } from "node:child_process";
import { once } from "node:events";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { SetMessage } from "../../protocol/messages/set.ts";
import { openStore } from "../../recorder/store/store.ts";
import { type Built, build } from "../recorder/store/built.ts";
import { numbers } from "../recorder/store/invented.ts";
import { Ears } from "./ears.ts";
import type { Orders, Said } from "./gym-recorder.ts";
import { Mosquitto } from "./mosquitto.ts";
import { ACL, USERS } from "./paper-hall.ts";

const CHILD = "tests/system/gym-recorder.ts";
const LONG = process.env["TIDEMARK_LONG"] === "1";
const SETS = LONG ? 1000 : 200;
const FEWEST_ROUNDS = LONG ? 150 : 26;
const SEED = 4711;
/** A running set is written down every five seconds; what ran for this long has been. */
const CHECKPOINTED_MS = 6500;
/** A commit that is under way when the process dies. */
const UNCOMMITTED_MS = 1000;

/** Where each round's death is aimed, over and over. */
const AIMS = ["any", "keep", "broker", "sent", "start", "checkpoint", "any", "keep", "broker", "both"] as const;
type Aim = (typeof AIMS)[number];

const folder = mkdtempSync(join(tmpdir(), "tidemark-crash-"));
const password_file = join(folder, "password");
const broker = new Mosquitto();
let built: Built;
let ears: Ears;
let recorder: ChildProcess | null = null;

beforeAll(async () => {
  built = build(CHILD, "recorder/store/worker.ts");
  writeFileSync(password_file, `${USERS.recorder}\n`, { mode: 0o600 });
  await broker.start({ users: USERS, acl: ACL, remembers: true });
  const topics = ["set", "state"].map((name) => `tidemark/paper-hall/station/+/${name}`);
  ears = new Ears(broker.port, "display", USERS.display, topics);
}, 120_000);

afterAll(async () => {
  recorder?.kill("SIGKILL");
  await ears?.close();
  await broker.remove();
  built?.remove();
  rmSync(folder, { recursive: true, force: true });
});

interface Death {
  readonly aim: Aim;
  readonly at_ms: number;
}

interface Life {
  readonly child: ChildProcess;
  /** Rejects where it ended by itself. */
  readonly dead: Promise<void>;
}

function bear(orders: Partial<Orders>): Life {
  const all: Orders = { directory: folder, port: broker.port, password_file, seed: SEED, train: true, ...orders };
  const child = fork(built.file(CHILD), [JSON.stringify(all)]);
  recorder = child;
  const dead = once(child, "exit").then(([code, signal]) => {
    if (signal !== "SIGKILL" && code !== 0) throw new Error(`the recorder ended with ${code}, by itself`);
  });
  dead.catch(() => {});
  return { child, dead };
}

/** Starts the recorder; resolves when it has said so, or is dead. */
async function start(orders: Partial<Orders>, is: Said["is"]): Promise<Life> {
  const life = bear(orders);
  const said = new Promise<void>((resolve) => {
    life.child.on("message", (message: Said) => {
      if (message.is === is) resolve();
    });
  });
  await Promise.race([said, life.dead]);
  return life;
}

function kill({ child, dead }: Life): Promise<void> {
  child.kill("SIGKILL");
  return dead;
}

/** One life of the recorder and how it ends. */
async function round(number: number, aim: Aim, next: () => number): Promise<Death> {
  const orders = { seed: SEED + number };
  switch (aim) {
    case "start": {
      const life = bear(orders);
      await pause(next() * 900);
      await kill(life);
      break;
    }
    case "keep":
    case "sent":
    case "checkpoint": {
      const nth = 1 + Math.floor(next() * (aim === "checkpoint" ? 2 : 12));
      const { dead } = await start({ ...orders, die: { during: aim, nth, after_ms: next() * 4 } }, "up");
      await dead;
      break;
    }
    case "any": {
      const life = await start(orders, "up");
      await pause(next() * 4000);
      await kill(life);
      break;
    }
    case "broker":
    case "both": {
      const life = await start(orders, "up");
      await pause(500 + next() * 1500);
      await broker.kill();
      if (aim === "both") await kill(life);
      await pause(next() * 500);
      await broker.run();
      await pause(500 + next() * 1500);
      if (aim === "broker") await kill(life);
    }
  }
  return { aim, at_ms: performance.now() };
}

const of = <Message>(name: string): { message: Message; payload: string; at_ms: number }[] =>
  ears.heard
    .filter(({ topic, payload }) => topic.endsWith(`/${name}`) && payload !== "")
    .map(({ payload, at_ms }) => ({ message: JSON.parse(payload) as Message, payload, at_ms }));

/** Of every set that was announced, whichever of its revisions. */
const setsHeard = (): Set<string> => new Set(of<SetMessage>("set").map(({ message }) => message.set_id));

interface Shown {
  readonly set_id: string;
  readonly working_ms: number | null;
  readonly finished_ms: number | null;
}

/** When each set was first seen to run and to be over, as `state` said it. */
function shown(): Map<string, Shown> {
  const sets = new Map<string, Shown>();
  for (const { message, at_ms } of of<{ set_id: string | null; phase: string }>("state")) {
    const { set_id, phase } = message;
    if (set_id === null) continue;
    const known = sets.get(set_id) ?? { set_id, working_ms: null, finished_ms: null };
    sets.set(set_id, {
      set_id,
      working_ms: known.working_ms ?? (phase === "working" ? at_ms : null),
      finished_ms: known.finished_ms ?? (phase === "finished" ? at_ms : null),
    });
  }
  return sets;
}

test(`${SETS} sets through deaths of the recorder and the broker: none that was promised is lost`, {
  timeout: LONG ? 3_600_000 : 600_000,
}, async () => {
  const next = numbers(SEED);
  const deaths: Death[] = [];
  // The subscriber's session is made before anything is said, and survives the broker's deaths.
  await ears.ready;
  broker.signal("SIGUSR1");
  for (let number = 0; number < FEWEST_ROUNDS || setsHeard().size < SETS; number++) {
    deaths.push(await round(number, AIMS[number % AIMS.length] as Aim, next));
  }
  const last = await start({ train: false }, "settled");
  last.child.kill("SIGTERM");
  await last.dead;

  const store = await openStore({ path: join(folder, "tidemark.db") });
  // A page ends where it would grow too long.
  const sets: SetMessage[] = [];
  for (let page = await store.sets({ from_set_seq: 1 }); ; ) {
    sets.push(...page.sets);
    if (!page.more) break;
    page = await store.sets({ from_set_seq: (sets.at(-1)?.set_seq ?? 0) + 1 });
  }
  const unfinished = await store.unfinished();
  const waiting = await store.outboxSize();
  await store.close();
  const stored = new Map(sets.map((set) => [set.set_id, set]));
  while (!of<SetMessage>("set").some(({ message }) => message.set_seq === sets.at(-1)?.set_seq)) await pause(50);

  // Nothing is left over, and no number is missing or used twice.
  expect({ unfinished, waiting }).toEqual({ unfinished: [], waiting: 0 });
  const numbers_used = sets.map(({ set_seq }) => set_seq);
  expect(new Set(numbers_used).size).toBe(sets.length);
  expect(sets.reduce((sum, { revision }) => sum + revision, 0)).toBe(Math.max(...numbers_used));
  expect(sets.length).toBeGreaterThanOrEqual(SETS);

  // Announced: in the store, byte for byte, however often it came. What has a revision differs from it by where its zero
  // stood, and nothing else.
  const announced = of<SetMessage>("set");
  for (const { message, payload } of announced) {
    const kept = stored.get(message.set_id);
    const { set_seq, revision } = message;
    const first = { ...kept, set_seq, revision, zero_shift_N: null };
    expect(payload).toBe(JSON.stringify(revision === kept?.revision ? kept : first));
  }

  // In the store: announced. A broker that dies with what it had confirmed is the only one that may swallow some.
  const nameOf = ({ set_id, revision }: SetMessage): string => `${set_id} ${revision}`;
  const heard = new Set(announced.map(({ message }) => nameOf(message)));
  const unheard = sets.filter((set) => !heard.has(nameOf(set)));
  const broker_deaths = deaths.filter(({ aim }) => aim === "broker" || aim === "both").length;
  expect(unheard.length).toBeLessThanOrEqual(broker_deaths);

  // Shown but not kept: only what had not run for a checkpoint yet, or was in the middle of its commit.
  const ends = deaths.map(({ at_ms }) => at_ms);
  const lost = [...shown().values()].filter(({ set_id, working_ms }) => working_ms !== null && !stored.has(set_id));
  const finished_lost = lost.filter(({ finished_ms }) => finished_ms !== null);
  for (const { set_id, working_ms, finished_ms } of lost) {
    const died_ms = ends.find((at_ms) => at_ms >= (working_ms as number)) ?? Number.POSITIVE_INFINITY;
    expect(died_ms - (working_ms as number), `${set_id} ran before a death and is nowhere`).toBeLessThan(
      CHECKPOINTED_MS,
    );
    if (finished_ms === null) continue;
    expect(died_ms - finished_ms, `${set_id} was over before a death and is nowhere`).toBeLessThan(UNCOMMITTED_MS);
  }
  const interrupted = sets.filter(({ stop_reason }) => stop_reason === "interrupted");
  expect(interrupted.length).toBeGreaterThan(0);
  console.log(
    [
      `${sets.length} sets, ${deaths.length} deaths (${broker_deaths} of them the broker's)`,
      `${announced.length - heard.size} duplicates`,
      `${interrupted.length} kept as interrupted`,
      `${lost.length} running for less than a checkpoint lost`,
      `${finished_lost.length} of them over and not committed`,
      `${unheard.length} swallowed by a dying broker`,
    ].join("; "),
  );
});
