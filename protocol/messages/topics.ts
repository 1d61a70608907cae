/** Every topic we publish, in one table: name, retained, QoS, schema. Addresses hang under `{root}/{site}/`. */
import type { z } from "zod";
import { presenceSchema } from "./presence.ts";
import { erasedSetSchema, setSchema } from "./set.ts";
import { effortMessageSchema, liveSchema, sensorSchema, stateSchema } from "./station.ts";

export interface TopicRule {
  readonly retained: boolean;
  readonly qos: 0 | 1;
  readonly schema: z.ZodType;
  readonly what: string;
}

/** Topics of a station: `station/{station}/{name}`. */
export const STATION_TOPICS = {
  live: { retained: false, qos: 0, schema: liveSchema, what: "live values, in every phase, at least once a second" },
  state: { retained: true, qos: 1, schema: stateSchema, what: "phase, who and what is set up, on every change" },
  effort: { retained: false, qos: 1, schema: effortMessageSchema, what: "each finished effort" },
  set: { retained: false, qos: 1, schema: setSchema, what: "each finished set, from the durable outbox" },
  "latest-set": { retained: true, qos: 1, schema: setSchema, what: "the newest finished set" },
  sensor: { retained: true, qos: 1, schema: sensorSchema, what: "sensor health and standing alarms" },
} as const satisfies Record<string, TopicRule>;
export type StationTopic = keyof typeof STATION_TOPICS;

/** Topics of a recorder: `recorder/{recorder}/{name}`. */
export const RECORDER_TOPICS = {
  presence: { retained: true, qos: 1, schema: presenceSchema, what: "online or not (will), version, store, stations" },
} as const satisfies Record<string, TopicRule>;
export type RecorderTopic = keyof typeof RECORDER_TOPICS;

/** Messages that come on a topic beside the one of its own name; a payload is valid against one and only one. */
export const FURTHER_MESSAGES: Readonly<Partial<Record<StationTopic, Readonly<Record<string, z.ZodType>>>>> = {
  set: { "erased-set": erasedSetSchema },
};

export const stationTopic = (root: string, site: string, station: string, name: StationTopic): string =>
  `${root}/${site}/station/${station}/${name}`;

export const presenceTopic = (root: string, site: string, recorder: string): string =>
  `${root}/${site}/recorder/${recorder}/presence`;

/** Every retained topic of a recorder that serves `stations`: what a broker may rightly hold of it. */
export function retainedTopics(root: string, site: string, recorder: string, stations: readonly string[]): string[] {
  const names = (Object.keys(STATION_TOPICS) as StationTopic[]).filter((name) => STATION_TOPICS[name].retained);
  return [
    presenceTopic(root, site, recorder),
    ...stations.flatMap((station) => names.map((name) => stationTopic(root, site, station, name))),
  ];
}

/** The `latest-set` beside a `set` topic; null for any other topic. */
export function latestSetBeside(topic: string): string | null {
  return topic.endsWith("/set") ? `${topic.slice(0, -"set".length)}latest-set` : null;
}

/** Whom a request topic is about: one station, or the recorder with all of them. */
export type Owner = "station" | "recorder";

export interface RequestOwner {
  readonly owner: Owner;
  readonly id: string;
}

export interface RequestTopic extends RequestOwner {
  readonly group: string;
  readonly verb: string;
}

/** Where a response goes: beside its request, to the one who asked. Names are no wildcards and hold no slash. */
export const responseTopic = (
  root: string,
  site: string,
  of: RequestOwner,
  asker: string,
  request_id: string,
): string => `${root}/${site}/${of.owner}/${of.id}/response/${asker}/${request_id}`;

/** What a recorder subscribes to, to be asked for the verbs of one group. */
export const requestFilter = (root: string, site: string, of: RequestOwner, group: string): string =>
  `${root}/${site}/${of.owner}/${of.id}/request/${group}/+`;

/** A request topic in its parts; null: it is none. What the parts name need not be there. */
export function readRequestTopic(topic: string): RequestTopic | null {
  const [, , owner, id, request, group, verb, ...rest] = topic.split("/");
  if (request !== "request" || id === undefined || group === undefined || verb === undefined) return null;
  if ((owner !== "station" && owner !== "recorder") || rest.length > 0) return null;
  return { owner, id, group, verb };
}
