/** Topic names: MQTT 5.0 section 4.7 (and 3.1.1 section 4.7, which says the same). */
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { stationId, traineeCode } from "../../../protocol/messages/parts.ts";
import {
  latestSetBeside,
  presenceTopic,
  RECORDER_TOPICS,
  readRequestTopic,
  requestFilter,
  responseTopic,
  retainedTopics,
  STATION_TOPICS,
  type StationTopic,
  stationTopic,
} from "../../../protocol/messages/topics.ts";

const NAMES = Object.keys(STATION_TOPICS) as StationTopic[];
const id = fc.stringMatching(/^[a-z0-9-]{1,40}$/);

function faults(topic: string): string[] {
  return [
    topic.length === 0 ? "4.7.3-1: at least one character" : "",
    topic.includes("\u0000") ? "4.7.3-2: no null character" : "",
    Buffer.byteLength(topic, "utf8") > 65_535 ? "4.7.3-3: at most 65535 bytes" : "",
    /[+#]/.test(topic) ? "4.7.1-1: no wildcard in a topic name" : "",
    topic.startsWith("$") ? "4.7.2: $ is the server's" : "",
    topic.split("/").some((level) => level === "") ? "an empty level is legal but never meant" : "",
  ].filter((fault) => fault !== "");
}

test("any ids give names that MQTT allows, and different ids different names", () => {
  fc.assert(
    fc.property(id, id, id, id, (root, site, station, other) => {
      for (const name of NAMES) {
        expect(faults(stationTopic(root, site, station, name))).toEqual([]);
        if (station !== other) {
          expect(stationTopic(root, site, station, name)).not.toBe(stationTopic(root, site, other, name));
        }
      }
      expect(faults(presenceTopic(root, site, station))).toEqual([]);
    }),
  );
});

test("names are the published ones", () => {
  expect(NAMES.map((name) => stationTopic("tidemark", "north-hall", "leg-press", name))).toEqual([
    "tidemark/north-hall/station/leg-press/live",
    "tidemark/north-hall/station/leg-press/state",
    "tidemark/north-hall/station/leg-press/effort",
    "tidemark/north-hall/station/leg-press/set",
    "tidemark/north-hall/station/leg-press/latest-set",
    "tidemark/north-hall/station/leg-press/sensor",
  ]);
  expect(presenceTopic("tidemark", "north-hall", "hall-box")).toBe("tidemark/north-hall/recorder/hall-box/presence");
});

test("what is retained and how surely it is sent", () => {
  const table = Object.entries({ ...STATION_TOPICS, ...RECORDER_TOPICS }).map(
    ([name, { retained, qos }]) => `${name} ${retained ? "retained" : "passing"} ${qos}`,
  );
  expect(table).toEqual([
    "live passing 0",
    "state retained 1",
    "effort passing 1",
    "set passing 1",
    "latest-set retained 1",
    "sensor retained 1",
    "presence retained 1",
  ]);
});

test("the retained topics of a recorder", () => {
  expect(retainedTopics("tidemark", "hall", "box", ["a", "b"])).toEqual([
    "tidemark/hall/recorder/box/presence",
    "tidemark/hall/station/a/state",
    "tidemark/hall/station/a/latest-set",
    "tidemark/hall/station/a/sensor",
    "tidemark/hall/station/b/state",
    "tidemark/hall/station/b/latest-set",
    "tidemark/hall/station/b/sensor",
  ]);
});

test("a request is heard at its owner's filter, read back in its parts, and answered beside itself", () => {
  const owner = fc.constantFrom("station" as const, "recorder" as const);
  const group = fc.constantFrom("read", "train", "service");
  fc.assert(
    fc.property(id, id, id, owner, group, (root, site, of, kind, asked) => {
      const filter = requestFilter(root, site, { owner: kind, id: of }, asked);
      expect(filter.endsWith("/+")).toBe(true);
      const topic = filter.replace("+", "status");
      expect(faults(topic)).toEqual([]);
      expect(readRequestTopic(topic)).toEqual({ owner: kind, id: of, group: asked, verb: "status" });
      const answer = responseTopic(root, site, { owner: kind, id: of }, "coach@north", "5d1f6a39");
      expect(faults(answer)).toEqual([]);
      expect(answer).toBe(`${topic.split("/request/")[0]}/response/coach@north/5d1f6a39`);
    }),
  );
});

test.each([
  "tidemark/hall/station/row/state",
  "tidemark/hall/station/row/request/read",
  "tidemark/hall/station/row/request/read/status/more",
  "tidemark/hall/gym/row/request/read/status",
  "tidemark/hall/station/row/response/read/status",
  "",
])("%j is no request topic", (topic) => expect(readRequestTopic(topic)).toBeNull());

test("latest-set is beside set, and beside nothing else", () => {
  for (const name of NAMES) {
    const beside = latestSetBeside(stationTopic("t", "s", "a", name));
    expect(beside).toBe(name === "set" ? stationTopic("t", "s", "a", "latest-set") : null);
  }
});

describe("ids", () => {
  test.each(["a", "leg-press", "9", "-", "a".repeat(40)])("%s is a station", (value) => {
    expect(stationId.safeParse(value).success).toBe(true);
  });
  test.each(["", "a".repeat(41), "Leg", "a_b", "a b", "a/b", "a+", "#", "é", "a\n", "$sys"])("%j is none", (value) => {
    expect(stationId.safeParse(value).success).toBe(false);
  });
  test.each(["T-017", "a_b", "A".repeat(40)])("%s is a trainee", (value) => {
    expect(traineeCode.safeParse(value).success).toBe(true);
  });
  test.each(["", "A".repeat(41), "a b", "a.b", "a/b", "ü", "x\n"])("%j is none", (value) => {
    expect(traineeCode.safeParse(value).success).toBe(false);
  });
});
