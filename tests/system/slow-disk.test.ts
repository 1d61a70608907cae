/**
 * A card that takes half a second for every sync, eight people training at once: strace(1) holds up each fsync and fdatasync
 * of the recorder. No reading is lost, the stop is called in time, and told to stop in the middle of eight sets it leaves
 * within five seconds with all of them on the disk; so it does when the broker has frozen as well.
 */
import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { afterAll, beforeAll, expect, onTestFinished, test } from "vitest";
import type { SetMessage } from "../../protocol/messages/set.ts";
import { setsAside } from "../../recorder/run/put-aside.ts";
import { openStore } from "../../recorder/store/store.ts";
import { type Built, build } from "../recorder/store/built.ts";
import { Ears } from "./ears.ts";
import type { Orders, Said } from "./gym-recorder.ts";
import { Mosquitto } from "./mosquitto.ts";
import { ACL, USERS } from "./paper-hall.ts";

const CHILD = "tests/system/gym-recorder.ts";
const SYNC_US = 500_000;

let built: Built;
beforeAll(() => {
  built = build(CHILD, "recorder/store/worker.ts");
}, 120_000);
afterAll(() => built?.remove());

interface Hall {
  readonly folder: string;
  readonly broker: Mosquitto;
  readonly ears: Ears;
  readonly recorder: ChildProcess;
}

async function hall(holds_at_speed: number): Promise<Hall> {
  const folder = mkdtempSync(join(tmpdir(), "tidemark-slow-"));
  const password_file = join(folder, "password");
  writeFileSync(password_file, `${USERS.recorder}\n`, { mode: 0o600 });
  const broker = new Mosquitto();
  await broker.start({ users: USERS, acl: ACL });
  const ears = new Ears(broker.port, "display", USERS.display, ["tidemark/#"]);
  await ears.ready;
  const orders: Orders = { directory: folder, port: broker.port, password_file, seed: 7, train: true, holds_at_speed };
  const trace = ["-D", "-qq", "-f", "--seccomp-bpf", "-o", "/dev/null", "-e", "trace=fsync,fdatasync"];
  const delay = ["-e", `inject=fsync,fdatasync:delay_enter=${SYNC_US}`];
  const command = [process.execPath, built.file(CHILD), JSON.stringify(orders)];
  const recorder = spawn("strace", [...trace, ...delay, ...command], {
    stdio: ["ignore", "inherit", "inherit", "ipc"],
  });
  onTestFinished(async () => {
    recorder.kill("SIGKILL");
    await ears.close();
    await broker.remove();
    rmSync(folder, { recursive: true, force: true });
  });
  await new Promise<void>((resolve, reject) => {
    recorder.on("message", ({ is }: Said) => {
      if (is === "up") resolve();
    });
    recorder.once("exit", () => reject(new Error("the recorder did not start: strace must be allowed to trace here")));
  });
  return { folder, broker, ears, recorder };
}

type Phase = { readonly set_id: string; readonly phase: string };
const said = <Message>(
  { ears }: Hall,
  name: string,
): { readonly message: Message; readonly topic: string; at_ms: number }[] =>
  ears.heard
    .filter(({ topic, payload }) => topic.endsWith(`/${name}`) && payload !== "")
    .map(({ topic, payload, at_ms }) => ({ topic, message: JSON.parse(payload) as Message, at_ms }));

const setsIn = (at: Hall, phase: string): Set<string> =>
  new Set(said<Phase>(at, "state").flatMap(({ message }) => (message.phase === phase ? [message.set_id] : [])));

async function until(held: () => boolean, within_ms: number): Promise<void> {
  const from_ms = performance.now();
  while (!held()) {
    if (performance.now() - from_ms > within_ms) throw new Error(`waited ${within_ms} ms in vain`);
    await pause(20);
  }
}

test("no reading is lost, the stop is called in time, and live goes on", async () => {
  const at = await hall(1);
  await until(() => said(at, "set").length >= 8, 110_000);
  const sets = said<SetMessage>(at, "set").map(({ message }) => message);
  expect(sets.map(({ stop_reason }) => stop_reason)).toEqual(Array(sets.length).fill("hold-below-floor"));
  expect(sets.map(({ quality }) => quality.readings_lost)).toEqual(Array(sets.length).fill(0));

  // How much later than any live value of the set, each by the board's clock, the word that it is over came.
  const live = said<{ set_id: string; elapsed_s: number | null }>(at, "live");
  const late_ms = sets.map(({ set_id, duration_s }) => {
    const delays_ms = live.flatMap(({ message, at_ms }) =>
      message.set_id === set_id && message.elapsed_s !== null && message.elapsed_s > 0 && message.elapsed_s < duration_s
        ? [at_ms - message.elapsed_s * 1000]
        : [],
    );
    const over = said<Phase>(at, "state").find(
      ({ message }) => message.set_id === set_id && message.phase === "finished",
    );
    return (over?.at_ms ?? Number.NaN) - duration_s * 1000 - Math.min(...delays_ms);
  });
  const gaps_ms = sets.map(({ set_id }) => {
    const heard_ms = live.flatMap(({ message, at_ms }) => (message.set_id === set_id ? [at_ms] : []));
    return Math.max(...heard_ms.slice(1).map((at_ms, index) => at_ms - (heard_ms[index] as number)));
  });
  const median = (values: readonly number[]): number => [...values].sort((x, y) => x - y)[values.length >> 1] as number;
  console.log(
    `${sets.length} sets: stop at the subscriber ${Math.round(median(late_ms))} ms (longest ${Math.round(Math.max(...late_ms))}) after the deciding reading; longest gap of live in a set ${Math.round(median(gaps_ms))} ms (longest ${Math.round(Math.max(...gaps_ms))})`,
  );
  // A sync takes 500 ms: whoever waited for one would be later, at every station. Medians, for the test's own machine.
  expect(median(late_ms)).toBeLessThan(400);
  expect(median(gaps_ms)).toBeLessThan(400);
}, 150_000);

test.each(["listens", "is frozen"])(
  "told to stop in the middle of eight sets while the broker %s: five seconds, none lost",
  async (broker) => {
    const at = await hall(4);
    await until(() => setsIn(at, "working").size >= 8, 60_000);
    // Long enough to be sets: a hold that is let go at once comes to nothing.
    await pause(2000);
    const over = setsIn(at, "finished");
    const running = [...setsIn(at, "working")].filter((set_id) => !over.has(set_id));
    if (broker === "is frozen") at.broker.signal("SIGSTOP");
    const asked_ms = performance.now();
    const gone = once(at.recorder, "exit");
    at.recorder.kill("SIGTERM");
    expect(await gone).toEqual([0, null]);
    const took_ms = performance.now() - asked_ms;
    at.broker.signal("SIGCONT");
    const store = await openStore({ path: join(at.folder, "tidemark.db") });
    const { sets } = await store.sets({});
    const unfinished = await store.unfinished();
    await store.close();
    const kept = new Set(sets.map(({ set_id }) => set_id));
    const aside = await setsAside(join(at.folder, "tidemark.db"));
    const written = new Set([...unfinished, ...aside.sets.map(({ message }) => message)].map(({ set_id }) => set_id));
    console.log(
      `${running.length} running; gone after ${Math.round(took_ms)} ms; ${kept.size} kept, ${written.size} for the next start to keep`,
    );
    expect(took_ms).toBeLessThan(5000);
    expect(running.length).toBeGreaterThanOrEqual(6);
    expect(running.filter((set_id) => !kept.has(set_id) && !written.has(set_id))).toEqual([]);
  },
  120_000,
);
