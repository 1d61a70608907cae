/** The way to mosquitto spoilt in every way a network has, while sets are kept: none is lost, and it mends by itself. */
import { afterEach, expect, test } from "vitest";
import { endAll, later, until } from "../recorder/mqtt/loopback.ts";
import { type Fault, FaultyLine } from "./faulty-line.ts";
import { type Drained, from1To, Hall, STATIONS, stationOf, topicOf } from "./mqtt-hall.ts";

afterEach(endAll);

const timing = { answer_ms: 600, connect_ms: 600, first_wait_ms: 20, longest_wait_ms: 160 };

async function throughALine() {
  const hall = await new Hall().open();
  const line = await new FaultyLine(hall.mosquitto.port).start();
  later(() => line.stop());
  return { hall, line };
}

const ONE_SENTENCE = /^[A-Z](?!.*\. )[^\n]*: [^\n]*\.$/;

const numbersOf = (station: string, last: number) => from1To(last).filter((number) => stationOf(number) === station);

test.each<[Fault, "tries in vain" | "comes in and is thrown out"]>([
  ["black hole", "tries in vain"],
  ["only towards the broker", "tries in vain"],
  ["only towards us", "tries in vain"],
  ["refuses", "tries in vain"],
  ["no PUBACK", "comes in and is thrown out"],
  ["cut in a packet", "comes in and is thrown out"],
])(
  "a line that is spoilt (%s) while sets are kept: it %s, loses none, and mends by itself",
  async (fault, meanwhile) => {
    const { hall, line } = await throughALine();
    const { bus, drain, lines, last, statuses } = hall.record({ port: line.port, timing });
    await until(() => expect(last()?.connected).toBe(true));
    for (const number of from1To(6)) hall.keep(number);
    drain.wake();
    await until(() => expect(hall.outbox.rows).toEqual([]));

    const [said, tried] = [lines.length, line.accepted];
    await line.set(fault);
    for (const number of from1To(14).slice(6)) hall.keep(number);
    drain.wake();
    await until(() => expect(last()?.trouble).not.toBeNull());
    if (fault === "refuses") await until(() => expect(last()?.trouble).toContain("Nothing listens"));
    else await until(() => expect(line.accepted - tried).toBeGreaterThan(3));
    // What nobody said yes to is all there still.
    expect(hall.outbox.rows).toHaveLength(8);
    // A line a change: what is tried in vain is said as lost, and once as it is since.
    const most = meanwhile === "tries in vain" ? 2 : 2 * (line.accepted - tried) + 1;
    expect(lines.length - said).toBeLessThanOrEqual(most);

    await line.set("none");
    await until(() => expect(hall.outbox.rows).toEqual([]));
    for (const station of STATIONS) await until(() => expect(hall.heard(station)).toEqual(numbersOf(station, 14)));
    // The broker took these and its yes never came: sent again, the very same bytes.
    if (fault === "no PUBACK")
      expect(STATIONS.flatMap((one) => hall.ears.payloads(topicOf(one))).length).toBeGreaterThan(14);
    await until(() => expect(last()).toEqual({ connected: true, trouble: null, alarm: null }));
    for (const { trouble } of statuses) if (trouble !== null) expect(trouble).toMatch(ONE_SENTENCE);

    await line.set(fault);
    hall.keep(15);
    await stopsInTime(bus, drain);
  },
);

test("a slow line: it takes its time, and nothing is given up", async () => {
  const { hall, line } = await throughALine();
  const { bus, drain, lines, last } = hall.record({ port: line.port });
  await until(() => expect(last()?.connected).toBe(true));
  await line.set("slow");
  for (const number of from1To(8)) hall.keep(number);
  drain.wake();
  await until(() => expect(hall.outbox.rows).toEqual([]));
  for (const station of STATIONS) await until(() => expect(hall.heard(station)).toEqual(numbersOf(station, 8)));
  expect(last()).toEqual({ connected: true, trouble: null, alarm: null });
  expect(lines).toHaveLength(1);
  hall.keep(9);
  await stopsInTime(bus, drain);
});

async function stopsInTime(bus: Drained["bus"], drain: Drained["drain"]): Promise<void> {
  drain.wake();
  const before_ms = performance.now();
  const drained = drain.stop();
  await bus.stop();
  await drained;
  expect(performance.now() - before_ms).toBeLessThan(2000);
}

test("a half-dead former life at the broker, whose will is to come: the presence that stays is that of the living", async () => {
  const { hall, line } = await throughALine();
  const former = hall.record({ port: line.port, boot: "0d0f3a2e-77aa-4c11-8e0a-5b1c2d3e4f50" });
  await until(() => expect(former.last()?.connected).toBe(true));
  await line.set("black hole");
  // The broker hears no end of it, and sends its will when another takes its place.
  await former.bus.stop();
  const { last, lines } = hall.record();
  await until(() => expect(last()?.connected).toBe(true));
  const presence = () =>
    hall.ears.heard.filter(({ topic }) => topic.endsWith("/presence")).map(({ payload }) => payload);
  await until(() => expect(presence().join()).toContain('"lost"'));
  await line.set("none");
  const late = await hall.listen();
  await until(() =>
    expect(JSON.parse(late.heard.find(({ topic }) => topic.endsWith("/presence"))?.payload ?? "{}")).toMatchObject({
      online: true,
      boot: "7f1c0a52-6f0e-4a57-9f0c-0d9a2b6f7c11",
    }),
  );
  expect(lines).toHaveLength(1);
});
