/**
 * The AsyncAPI 3.0.0 document of what a recorder says and takes over MQTT, from the topic table and the verbs. Send and
 * receive are the recorder's, as the standard has it: a display receives what is sent here.
 */
import {
  RECORDER_TOPICS,
  type RecorderTopic,
  STATION_TOPICS,
  type StationTopic,
  type TopicRule,
} from "../../protocol/messages/topics.ts";
import { RESPONSE_PARAMETERS, requestChannels, requestOperations } from "./asyncapi-requests.ts";
import { allSchemas, type JsonSchema, jsonSchemaOf, messagesOf } from "./json-schemas.ts";

type Json = Record<string, unknown>;

/** MQTT binding 0.2.0 of AsyncAPI. */
const BINDING_VERSION = "0.2.0";

const GROWTH = [
  "Payloads are UTF-8 JSON objects. Numbers are finite or null; null means not known. The unit ends the name, in its own case; fractions are 0..1.",
  "Requests are strict: a field that is not known is refused. Rights are given by topic, so a request names its station by its topic.",
  "Within schema_version 1 fields are only added: ignore what you do not know, and show an unknown value of an enumeration as text.",
  "Messages come at least once, and may come twice or late: order sets by set_seq and keep the highest revision.",
  "An empty retained payload means that nothing is there.",
].join("\n\n");

const PARAMETERS: Readonly<Record<string, Json>> = {
  root: { description: "Where all topics begin.", default: "tidemark" },
  site: { description: "The building or hall: 1 to 40 of a-z, 0-9 and hyphen.", examples: ["north-hall"] },
  station: {
    description: "The training machine with its sensor: 1 to 40 of a-z, 0-9 and hyphen.",
    examples: ["leg-press"],
  },
  recorder: {
    description: "The box that serves the stations: 1 to 40 of a-z, 0-9 and hyphen.",
    examples: ["hall-box"],
  },
};

export function asyncapiDocument(): Json {
  const topics: readonly Topic[] = [
    ...Object.entries(STATION_TOPICS).map(([name, rule]) => topic(name as StationTopic, rule, "station")),
    ...Object.entries(RECORDER_TOPICS).map(([name, rule]) => topic(name as RecorderTopic, rule, "recorder")),
  ];
  const messages = [...allSchemas()];
  return {
    asyncapi: "3.0.0",
    info: { title: "Tidemark recorder", version: "1.0.0", description: GROWTH, license: { name: "MIT" } },
    defaultContentType: "application/json",
    servers: servers(),
    channels: { ...Object.fromEntries(topics.map((topic) => [topic.name, channel(topic)])), ...requestChannels() },
    operations: {
      ...Object.fromEntries(topics.map((topic) => [`publish-${topic.name}`, send(topic)])),
      "watch-presence": {
        action: "receive",
        channel: { $ref: "#/channels/presence" },
        summary:
          "The recorder reads its own presence back and says it again if anybody, such as an old will, overwrites it.",
        messages: [{ $ref: "#/channels/presence/messages/presence" }],
        bindings: { mqtt: { qos: 1, bindingVersion: BINDING_VERSION } },
      },
      ...requestOperations(BINDING_VERSION),
    },
    components: {
      parameters: { ...PARAMETERS, ...RESPONSE_PARAMETERS },
      messages: Object.fromEntries(messages.map(([name]) => [name, message(name)])),
      schemas: Object.fromEntries(messages.map(([name, schema]) => [name, schemaOf(name, schema)])),
    },
  };
}

interface Topic {
  readonly name: StationTopic | RecorderTopic;
  readonly rule: TopicRule;
  readonly owner: "station" | "recorder";
}

const topic = (name: Topic["name"], rule: TopicRule, owner: Topic["owner"]): Topic => ({ name, rule, owner });

const addressOf = ({ name, owner }: Topic): string => `{root}/{site}/${owner}/{${owner}}/${name}`;

function servers(): Json {
  return {
    broker: {
      host: "{host}",
      protocol: "secure-mqtt",
      protocolVersion: "5.0",
      description: "A broker of the house. MQTT 5, because only its acknowledgement can carry a refusal.",
      variables: { host: { description: "As in broker.url.", examples: ["broker.example:8883"] } },
      bindings: { mqtt: serverBinding() },
    },
    embedded: {
      host: "127.0.0.1:1883",
      protocol: "mqtt",
      protocolVersion: "3.1.1",
      description: "Without a broker of the house: inside the recorder, on loopback only, without passwords.",
      bindings: { mqtt: serverBinding() },
    },
  };
}

function serverBinding(): Json {
  return {
    clientId: "{root}.{site}.{recorder}",
    cleanSession: true,
    keepAlive: 10,
    lastWill: {
      topic: "{root}/{site}/recorder/{recorder}/presence",
      qos: 1,
      message: "A presence message with online false and reason lost.",
      retain: true,
    },
    bindingVersion: BINDING_VERSION,
  };
}

function channel(topic: Topic): Json {
  const retained = topic.rule.retained ? " Retained." : " Not retained.";
  const names = ["root", "site", topic.owner];
  return {
    address: addressOf(topic),
    description: `${topic.rule.what}.${retained}`,
    parameters: Object.fromEntries(names.map((name) => [name, { $ref: `#/components/parameters/${name}` }])),
    messages: Object.fromEntries(
      messagesOf(topic.name).map(({ name }) => [name, { $ref: `#/components/messages/${name}` }]),
    ),
  };
}

function send({ name, rule }: Topic): Json {
  return {
    action: "send",
    channel: { $ref: `#/channels/${name}` },
    summary: `Publishes ${rule.what}.`,
    messages: messagesOf(name).map((message) => ({ $ref: `#/channels/${name}/messages/${message.name}` })),
    bindings: { mqtt: { qos: rule.qos, retain: rule.retained, bindingVersion: BINDING_VERSION } },
  };
}

const message = (name: string): Json => ({
  name,
  title: name,
  contentType: "application/json",
  payload: { $ref: `#/components/schemas/${name}` },
});

function schemaOf(name: string, schema: Parameters<typeof jsonSchemaOf>[1]): JsonSchema {
  return jsonSchemaOf(name, schema, "draft-07");
}
