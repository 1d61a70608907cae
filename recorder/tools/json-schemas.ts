/** The published messages as JSON Schemas, generated from the zod schemas so that the two cannot differ. */
import { z } from "zod";
import {
  FURTHER_MESSAGES,
  RECORDER_TOPICS,
  type RecorderTopic,
  STATION_TOPICS,
  type StationTopic,
} from "../../protocol/messages/topics.ts";

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

/** Open schemas: a reader must take fields it does not know. */
export function jsonSchemaOf(name: string, schema: z.ZodType, dialect: Dialect): JsonSchema {
  const { $schema, ...body } = z.toJSONSchema(schema, {
    target: dialect === "draft-07" ? "draft-7" : "draft-2020-12",
    override: ({ jsonSchema }) => {
      // The range in which a double is exact says nothing about the message.
      if (jsonSchema.minimum === Number.MIN_SAFE_INTEGER) delete jsonSchema.minimum;
      if (jsonSchema.maximum === Number.MAX_SAFE_INTEGER) delete jsonSchema.maximum;
    },
  });
  if (dialect === "draft-07") return { title: name, ...body };
  return { $schema, $id: `urn:tidemark:message:${name}:1`, title: name, ...body };
}
