/** Who comes and goes at the broker: mosquitto itself, over and over; another broker; a recorder killed; two of one name. */
import { spawn } from "node:child_process";
import { once } from "node:events";
import { fileURLToPath } from "node:url";
import { afterEach, expect, test } from "vitest";
import { stationTopic } from "../../protocol/messages/topics.ts";
import { SAMPLES } from "../protocol/messages/samples.ts";
import { endAll, later, PRESENCE, until } from "../recorder/mqtt/loopback.ts";
import { from1To, Hall, STATIONS, stationOf, topicOf } from "./mqtt-hall.ts";

afterEach(endAll);

const STATE = stationTopic("tidemark", "hall", "leg-press", "state");
const OURS = "7f1c0a52-6f0e-4a57-9f0c-0d9a2b6f7c11";
const OTHER = "0d0f3a2e-77aa-4c11-8e0a-5b1c2d3e4f50";

const said = (payload: string | undefined): unknown => JSON.parse(payload ?? "null");
const pause = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));

test("a broker that restarts twenty times while sets are kept: all arrive, in order", async () => {
  const hall = await new Hall().open({ remembers: true });
  const { drain, last, lines } = hall.record({ timing: { longest_wait_ms: 100 } });
  let number = 0;
  const keeping = setInterval(() => {
    number += 1;
    hall.keep(number);
    drain.wake();
  }, 40);
  later(() => clearInterval(keeping));
  const ups = 20;
  for (const _ of from1To(ups)) {
    // The pace of the fault itself.
    await pause(300);
    await hall.mosquitto.kill("SIGTERM");
    await pause(300);
    await hall.mosquitto.run();
  }
  clearInterval(keeping);
  await until(() => expect(hall.outbox.rows).toEqual([]));
  await until(() => expect(last()).toEqual({ connected: true, trouble: null, alarm: null }));
  expect(hall.outbox.removed).toHaveLength(number);
  // Up, lost, nothing listens: no more than that of any one restart, though each has many tries.
  expect(lines.length).toBeLessThanOrEqual(3 * ups + 3);
  // The ears too are thrown out each time, and told again what they have not confirmed.
  for (const station of STATIONS) {
    const wanted = from1To(number).filter((one) => stationOf(one) === station);
    await until(() => expect([...new Set(hall.heard(station))]).toEqual(wanted));
  }
});

test("another broker in its place, with nothing on it: all that is retained is said again, and the sets go there", async () => {
  const hall = await new Hall().open();
  const { bus, drain, last } = hall.record();
  await until(() => expect(last()?.connected).toBe(true));
  bus.publishState(STATE, JSON.stringify(SAMPLES.state));
  hall.keep(2);
  drain.wake();
  await until(() => expect(hall.outbox.rows).toEqual([]));
  await hall.replace({ users: { box: "open sesame", someone: "else" } });
  hall.keep(4);
  drain.wake();
  await until(() => expect(hall.outbox.rows).toEqual([]));
  const late = await hall.listen();
  await until(() => expect(late.newest(STATE)).toBe(JSON.stringify(SAMPLES.state)));
  await until(() => expect(said(late.newest(PRESENCE))).toMatchObject({ online: true }));
  await until(() =>
    expect(said(late.newest(topicOf("leg-press").replace("/set", "/latest-set")))).toMatchObject({ set_seq: 4 }),
  );
});

test("two recorders of one name: neither throws the other out more often than its longest wait allows", async () => {
  const hall = await new Hall().open();
  const timing = { first_wait_ms: 20, longest_wait_ms: 500, steady_ms: 60_000 };
  const began_ms = performance.now();
  const both = [OURS, OTHER].map((boot) => hall.record({ boot, timing }));
  const ups = (): number[] => both.map(({ lines }) => lines.filter((line) => line.startsWith("Connected")).length);
  await until(() => expect(Math.min(...ups())).toBeGreaterThan(4));
  // Until it is noticed, waits double from the first: 20, 40 and so on to 320 ms come before the longest.
  const most = 6 + (performance.now() - began_ms) / timing.longest_wait_ms;
  for (const count of ups()) expect(count).toBeLessThanOrEqual(most);
  for (const one of both) expect(one.last()?.alarm).toBe("recorder-conflict");
});

test("an old will that comes after our word is answered with our word again", async () => {
  const hall = await new Hall().open();
  const former = { ...SAMPLES.presence, boot: OTHER, online: false, reason: "lost" };
  const { client } = await hall.listen({
    topic: PRESENCE,
    payload: Buffer.from(JSON.stringify(former)),
    qos: 1,
    retain: true,
  });
  const { last, lines } = hall.record();
  await until(() => expect(said(hall.ears.newest(PRESENCE))).toMatchObject({ online: true, boot: OURS }));
  client.options.reconnectPeriod = 0;
  client.stream.destroy();
  await until(() => expect(hall.ears.payloads(PRESENCE).join()).toContain('"lost"'));
  await until(() => expect(said(hall.ears.newest(PRESENCE))).toMatchObject({ online: true, boot: OURS }));
  expect(last()).toEqual({ connected: true, trouble: null, alarm: null });
  expect(lines).toHaveLength(1);
});

test("killed outright and started again: its will comes late or not, its presence ends as there", async () => {
  const hall = await new Hall().open();
  const script = fileURLToPath(new URL("doomed-recorder.ts", import.meta.url));
  const env = {
    ...process.env,
    PORT: `${hall.mosquitto.port}`,
    PRESENCE,
    BOOT: OTHER,
    PASSWORD_FILE: hall.password_file,
  };
  const child = spawn(process.execPath, ["--import", "tsx", script], { env, stdio: "ignore" });
  later(() => child.kill("SIGKILL"));
  await until(() => expect(said(hall.ears.newest(PRESENCE))).toMatchObject({ online: true, boot: OTHER }));
  const exited = once(child, "exit");
  child.kill("SIGKILL");
  const { last, lines } = hall.record();
  await exited;
  await until(() => expect(hall.ears.payloads(PRESENCE).join()).toContain('"lost"'));
  await until(() => expect(last()).toEqual({ connected: true, trouble: null, alarm: null }));
  await until(() => expect(said(hall.ears.newest(PRESENCE))).toMatchObject({ online: true, boot: OURS }));
  const late = await hall.listen();
  await until(() => expect(said(late.newest(PRESENCE))).toMatchObject({ online: true, boot: OURS }));
  expect(lines).toHaveLength(1);
});
