import { once } from "node:events";
import { connect, createServer } from "node:net";
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
  const frozen = connect(port, "127.0.0.1");
  later(() => frozen.destroy());
  await once(frozen, "connect");
  const connack = once(frozen, "data");
  frozen.write(
    generate({ cmd: "connect", protocolId: "MQTT", protocolVersion: 4, clean: true, clientId: "frozen", keepalive: 0 }),
  );
  await connack;
  const suback = once(frozen, "data");
  frozen.write(generate({ cmd: "subscribe", messageId: 1, subscriptions: [{ topic: "flood/#", qos: 0 }] }));
  await suback;
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
