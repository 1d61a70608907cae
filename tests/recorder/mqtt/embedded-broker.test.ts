import { randomUUID } from "node:crypto";
import { once } from "node:events";
import { connect, createServer, type Socket } from "node:net";
import { connectAsync } from "mqtt";
import { generate } from "mqtt-packet";
import { afterEach, expect, test } from "vitest";
import { startEmbeddedBroker } from "../../../recorder/mqtt/embedded-broker.ts";
import { embedded, endAll, later, subscriber, until } from "./loopback.ts";

afterEach(endAll);

test("0 finds a free port, and messages pass", async () => {
  const broker = await embedded();
  expect(broker.port).toBeGreaterThan(0);
  const ears = await subscriber(broker.port);
  const mouth = await connectAsync(`mqtt://127.0.0.1:${broker.port}`);
  later(() => mouth.end(true));
  await mouth.publishAsync("a/b", "x", { qos: 1 });
  await until(() => expect(ears.payloads("a/b")).toEqual(["x"]));
});

test("it listens on loopback and nowhere else", async () => {
  const { port } = await embedded();
  // The same port on another loopback address is free exactly if the broker took 127.0.0.1 alone.
  const other = createServer();
  other.listen(port, "127.0.0.2");
  await once(other, "listening");
  other.close();
});

test("a port in use is one sentence that says what would do", async () => {
  const { port } = await embedded();
  const second = await startEmbeddedBroker(port);
  expect(second).toEqual({
    ok: false,
    problem: `Port ${port} on 127.0.0.1 is taken by another program: stop it, set another embedded_broker.port, or name that broker in [broker].`,
  });
});

test("it stops within a second, with clients, with strangers, and twice", async () => {
  const broker = await embedded();
  await subscriber(broker.port);
  const stranger = connect(broker.port, "127.0.0.1");
  await once(stranger, "connect");
  const ended = once(stranger, "close");
  const before_ms = performance.now();
  await Promise.all([broker.stop(), broker.stop()]);
  await ended;
  expect(performance.now() - before_ms).toBeLessThan(1000);
  const again = await startEmbeddedBroker(broker.port);
  expect(again.ok).toBe(true);
  if (again.ok) await again.broker.stop();
});

test("a client that speaks MQTT 5 is told that this broker does not", async () => {
  const { port } = await embedded();
  await expect(
    connectAsync(`mqtt://127.0.0.1:${port}`, { protocolVersion: 5, reconnectPeriod: 0 }, false),
  ).rejects.toThrow();
});

test("a subscriber that stopped reading holds up nobody for long, and is dropped", async () => {
  const { port } = await embedded();
  const ears = await subscriber(port, "flood/#");
  const frozen = await rawSubscriber(port, "flood/#");
  frozen.pause();

  const mouth = await connectAsync(`mqtt://127.0.0.1:${port}`);
  later(() => mouth.end(true));
  // Together more than the kernel buffers of a loopback connection take, so that the frozen one blocks. One after the
  // other, so that the reading one is never behind.
  const payload = "x".repeat(64 * 1024);
  let longest_ms = 0;
  for (let sent = 1; sent <= 400; sent += 1) {
    const before_ms = performance.now();
    const arrived = new Promise((resolve) => ears.client.once("message", resolve));
    mouth.publish("flood/x", payload, { qos: 0 });
    await arrived;
    longest_ms = Math.max(longest_ms, performance.now() - before_ms);
  }
  expect(longest_ms).toBeLessThan(5000);
  // It did hold the others up, or it would still be there.
  const dropped = once(frozen, "close");
  frozen.resume();
  await dropped;
});

test("a subscriber that was not served because we were stalled ourselves is not dropped for it", async () => {
  const { port } = await embedded();
  const mouth = await connectAsync(`mqtt://127.0.0.1:${port}`);
  later(() => mouth.end(true));
  // Together more than the kernel buffers of a loopback connection take that nobody reads from.
  const payload = "x".repeat(256 * 1024);
  const topics = Array.from({ length: 60 }, (_, index) => `flood/${index}`);
  for (const topic of topics) await mouth.publishAsync(topic, payload, { qos: 1, retain: true });
  const late = await rawSubscriber(port, "flood/#");
  late.pause();
  let read = 0;
  late.on("data", (bytes: Buffer) => {
    read += bytes.length;
  });
  late.pause();
  // Turns enough for the broker to come to the message that does not fit.
  for (let turn = 0; turn < 500; turn += 1) await new Promise(setImmediate);
  // Nothing runs in this process: no timer, no read, no write.
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 1500);
  late.resume();
  await until(() => expect([read > (topics.length - 1) * payload.length, late.closed]).toEqual([true, false]));
});

test("a packet that would be too long ends its connection at its first bytes, also before it is said who sends it", async () => {
  const { port } = await embedded();
  const fits = await rawSubscriber(port, "own/#");
  const whole = generate({ ...PUBLISH, topic: "own/x", payload: "x".repeat(4_000_000) });
  let read = 0;
  fits.on("data", (bytes: Buffer) => {
    read += bytes.length;
  });
  fits.write(whole);
  await until(() => expect(read).toBe(whole.length));

  // MQTT 3.1.1 section 2.2.3: 0xff 0xff 0xff 0x7f is the longest there is, 256 MB.
  for (const socket of [fits, connect(port, "127.0.0.1")]) {
    later(() => socket.destroy());
    socket.on("error", () => {});
    const closed = once(socket, "close");
    socket.write(Buffer.from([0x30, 0xff, 0xff, 0xff, 0x7f]));
    await closed;
  }
});

test("more connections than a box has use for are closed at once, and a place that is free again is given away", async () => {
  const { port } = await embedded();
  const first = await Promise.all(Array.from({ length: 32 }, () => stranger(port)));
  const turnedAway = connect(port, "127.0.0.1");
  turnedAway.on("error", () => {});
  await once(turnedAway, "close");
  expect(first.filter(({ closed }) => closed)).toEqual([]);
  const [leaving] = first;
  if (leaving === undefined) throw new Error("nobody is there");
  leaving.destroy();
  await once(leaving, "close");
  await until(async () => void (await subscriber(port)));
});

const PUBLISH = { cmd: "publish", qos: 0, retain: false, dup: false } as const;

async function stranger(port: number): Promise<Socket> {
  const socket = connect(port, "127.0.0.1");
  later(() => socket.destroy());
  await once(socket, "connect");
  return socket;
}

/** A subscriber at QoS 0 of which the test decides when it reads. */
async function rawSubscriber(port: number, topic: string): Promise<Socket> {
  const socket = await stranger(port);
  const connack = once(socket, "data");
  socket.write(
    generate({
      cmd: "connect",
      protocolId: "MQTT",
      protocolVersion: 4,
      clean: true,
      clientId: randomUUID(),
      keepalive: 0,
    }),
  );
  await connack;
  const suback = once(socket, "data");
  socket.write(generate({ cmd: "subscribe", messageId: 1, subscriptions: [{ topic, qos: 0 }] }));
  await suback;
  return socket;
}
