/**
 * What an outage leaves behind, brought from the store itself to mosquitto: it comes in order, once each, and stands in
 * nobody's way, however narrow the broker's limits are. Limits: mosquitto.conf(5), max_inflight_messages, max_packet_size
 * (which MQTT 5.0 section 3.2.2.3 has it tell us) and message_size_limit (which it does not).
 */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, expect, test } from "vitest";
import type { SetMessage } from "../../protocol/messages/set.ts";
import { BACK_OFF } from "../../recorder/mqtt/back-off.ts";
import type { Store } from "../../recorder/ports.ts";
import { openStore } from "../../recorder/store/store.ts";
import { endAll, later, until } from "../recorder/mqtt/loopback.ts";
import { inventedLog } from "../recorder/store/invented.ts";
import { hearOutside } from "./heard-outside.ts";
import { from1To, Hall, STATIONS, setOf, stationOf, topicOf } from "./mqtt-hall.ts";

afterEach(endAll);

const LIVE = "tidemark/hall/station/leg-press/pulse";

async function storeWith(sets: number): Promise<Store> {
  const folder = mkdtempSync(join(tmpdir(), "backlog-"));
  later(() => rmSync(folder, { recursive: true, force: true }));
  const store = await openStore({ path: join(folder, "store.sqlite") });
  later(() => store.close());
  const log = inventedLog(1, 200);
  for (const number of from1To(sets)) {
    const station = stationOf(number);
    const message: SetMessage = { ...(JSON.parse(setOf(number)) as SetMessage), station };
    await store.keep({ message, log, setup: "", topic: topicOf(station) });
  }
  return store;
}

test.each([
  ["as it comes", 1000, []],
  ["one unanswered message at a time", 300, ["max_inflight_messages 1"]],
] as const)(
  "a backlog of kept sets, %s (%i sets): in order, once each, and live values go on meanwhile",
  async (_how, sets, limits) => {
    const store = await storeWith(sets);
    const hall = await new Hall().open({ limits });
    const outside = hearOutside(hall.mosquitto.port, LIVE, "open sesame");
    later(() => outside.stop());
    await until(() => {
      hall.ears.client.publish(LIVE, JSON.stringify({ said_ms: Date.now() }));
      expect(outside.late_ms.length).toBeGreaterThan(0);
    });
    const { bus, last, lines } = hall.record({ store });
    await until(() => expect(last()?.connected).toBe(true));
    let said = 0;
    const live = setInterval(() => {
      said += 1;
      bus.publishLive(LIVE, JSON.stringify({ said_ms: Date.now() }));
    }, 20);
    later(() => clearInterval(live));
    await expect.poll(() => store.outboxSize(), { timeout: 40_000, interval: 50 }).toBe(0);
    clearInterval(live);
    const numbers = (station: string): number[] =>
      hall.ears.payloads(topicOf(station)).map((one) => (JSON.parse(one) as SetMessage).set_seq);
    // The broker hands on what it took at its own pace.
    for (const station of STATIONS) {
      const wanted = from1To(sets).filter((number) => stationOf(number) === station);
      await until(() => expect(numbers(station)).toEqual(wanted));
    }
    await until(() => expect(outside.late_ms.length).toBeGreaterThanOrEqual(said));
    expect(bus.dropped().live).toBe(0);
    // Behind the backlog a value would wait for seconds; what is left is what a loaded machine does to two processes.
    expect(Math.max(...outside.late_ms)).toBeLessThan(500);
    expect(last()).toEqual({ connected: true, trouble: null, alarm: null });
    expect(lines).toHaveLength(1);
  },
);

test("a set larger than the broker takes holds up its own station only, and is said once", async () => {
  const hall = await new Hall().open({ limits: ["max_packet_size 20000"] });
  hall.keep(2, "x".repeat(30_000));
  hall.keep(4);
  hall.keep(1);
  const { last, lines } = hall.record();
  await until(() => expect(hall.heard("row")).toEqual([1]));
  await until(() =>
    expect(last()?.trouble).toMatch(/^A message on .*leg-press\/set is larger than the broker takes: .*\.$/),
  );
  await until(() => expect(hall.outbox.rows.map(({ row }) => row)).toEqual([1, 2]));
  expect(hall.heard("leg-press")).toEqual([]);
  expect(lines).toHaveLength(2);
});

test("a set that the broker answers with what is no MQTT 5 is set aside, and goes once the limit is raised", async () => {
  const hall = await new Hall().open({ limits: ["message_size_limit 20000"] });
  hall.keep(2, "x".repeat(30_000));
  hall.keep(4);
  for (const number of [1, 3, 5, 7]) hall.keep(number);
  const { statuses, last, lines } = hall.record({
    // Minutes are what a row that is set aside waits at first, and a second what a refused one does.
    wait_ms: (_failures, _random, limits = BACK_OFF) => (limits.first_wait_ms > 1000 ? 600_000 : 50),
  });
  await until(() => expect(hall.heard("row")).toEqual([1, 3, 5, 7]));
  await until(() =>
    expect(last()).toEqual({
      connected: true,
      trouble: expect.stringMatching(/^The connection is lost .* 3\d{4} bytes on .*leg-press\/set .*: .*\.$/),
      alarm: null,
    }),
  );
  await until(() => expect(hall.outbox.rows.map(({ row }) => row)).toEqual([1, 2]));
  // Twice beside others, once alone; the connection after that is left in peace. An answer missed would take 10 s each.
  expect(statuses.filter(({ connected, trouble }) => !connected && trouble !== null)).toHaveLength(3);
  expect(lines.filter((line) => line.includes("bytes"))).toHaveLength(1);

  await hall.replace();
  await until(() => expect(hall.outbox.rows).toEqual([]));
  await until(() => expect(last()).toEqual({ connected: true, trouble: null, alarm: null }));
});
