/** What is published and what is taken, as JSON Schemas, generated from the zod schemas so that the two cannot differ. */
import { z } from "zod";
import {
  FURTHER_MESSAGES,
  RECORDER_TOPICS,
  type RecorderTopic,
  STATION_TOPICS,
  type StationTopic,
} from "../../protocol/messages/topics.ts";
import { mqttRequestSchema, mqttResponseSchema, ownersOf } from "../../protocol/requests/over-mqtt.ts";
import { VERBS, type Verb } from "../../protocol/requests/verbs.ts";

export type JsonSchema = Record<string, unknown>;

/** 2020-12 for the schema files; AsyncAPI's own schema dialect is a superset of draft 7. */
export type Dialect = "draft-2020-12" | "draft-07";

interface Message {
  readonly name: string;
  readonly schema: z.ZodType;
}

/** Which messages come on a topic, by name: `latest-set` carries the message `set`. */
export function messagesOf(topic: StationTopic | RecorderTopic): Message[] {
  const rules: readonly (readonly [string, { readonly schema: z.ZodType }])[] = [
    ...Object.entries(STATION_TOPICS),
    ...Object.entries(RECORDER_TOPICS),
  ];
  const own = rules.find(([name]) => name === topic)?.[1].schema;
  const first = rules.find(([, { schema }]) => schema === own);
  if (own === undefined || first === undefined) throw new Error(`no topic is called ${topic}`);
  const further = Object.entries(FURTHER_MESSAGES[topic as StationTopic] ?? {});
  return [{ name: first[0], schema: own }, ...further.map(([name, schema]) => ({ name, schema }))];
}

/** Every message once, by name, in the order of the topic table. */
export function allMessages(): Map<string, z.ZodType> {
  const topics = [...Object.keys(STATION_TOPICS), ...Object.keys(RECORDER_TOPICS)] as (StationTopic | RecorderTopic)[];
  return new Map(topics.flatMap(messagesOf).map(({ name, schema }) => [name, schema]));
}

/** The verbs that are taken over MQTT. */
export const askableVerbs = (): Verb[] => (Object.keys(VERBS) as Verb[]).filter((verb) => ownersOf(verb).length > 0);

export const requestName = (verb: Verb): string => `request-${verb}`;

/** What is asked with, by name, and what is answered with. */
export const allRequests = (): Map<string, z.ZodType> =>
  new Map(askableVerbs().map((verb) => [requestName(verb), mqttRequestSchema(verb)]));
export const RESPONSE = { name: "response", schema: mqttResponseSchema } as const;

/** Everything that has a schema of its own. */
export const allSchemas = (): Map<string, z.ZodType> =>
  new Map([...allMessages(), ...allRequests(), [RESPONSE.name, RESPONSE.schema]]);

/** Open schemas for what is published: a reader must take fields it does not know. Strict ones for what is taken. */
export function jsonSchemaOf(name: string, schema: z.ZodType, dialect: Dialect): JsonSchema {
  const { $schema, ...body } = z.toJSONSchema(schema, {
    target: dialect === "draft-07" ? "draft-7" : "draft-2020-12",
    // As it travels: what has a default may be left out of a request.
    io: "input",
    override: ({ jsonSchema }) => {
      // The range in which a double is exact says nothing about the message.
      if (jsonSchema.minimum === Number.MIN_SAFE_INTEGER) delete jsonSchema.minimum;
      if (jsonSchema.maximum === Number.MAX_SAFE_INTEGER) delete jsonSchema.maximum;
    },
  });
  if (dialect === "draft-07") return { title: name, ...body };
  return { $schema, $id: `urn:tidemark:message:${name}:1`, title: name, ...body };
}
