/**
 * The generated documents: not stale, and what AsyncAPI 3.0.0 asks of a document. Required fields, and the fields each
 * object may have, are from the specification's "Fixed Fields" tables (asyncapi/spec v3.0.0, spec/asyncapi.md) and from
 * the MQTT bindings 0.2.0 (asyncapi/bindings, mqtt/README.md).
 */
import { readdirSync, readFileSync } from "node:fs";
import { Ajv } from "ajv";
import { Ajv2020 } from "ajv/dist/2020.js";
import { describe, expect, test } from "vitest";
import { VERBS } from "../../../protocol/requests/verbs.ts";
import { asyncapiDocument } from "../../../recorder/tools/asyncapi.ts";
import { contractFiles, SCHEMA_FOLDER } from "../../../recorder/tools/contract-files.ts";
import { ERASED_SET, SAMPLES } from "./samples.ts";

type Json = Record<string, unknown>;

const inCheckout = (path: string): URL => new URL(`../../../${path}`, import.meta.url);
const document = JSON.parse(readFileSync(inCheckout("protocol/asyncapi.json"), "utf8")) as Json;

function at(pointer: string): unknown {
  expect(pointer.startsWith("#/"), pointer).toBe(true);
  return pointer
    .slice(2)
    .split("/")
    .reduce<unknown>((value, key) => (value as Json | undefined)?.[key], document);
}

const followed = (value: unknown): Json => {
  const { $ref } = value as { $ref?: string };
  return $ref === undefined ? (value as Json) : followed(at($ref));
};

const objects = (pointer: string): [string, Json][] => Object.entries(at(pointer) as Json) as [string, Json][];

/** Every object anywhere in the document, depth first. */
function* everyObject(value: unknown): Generator<Json> {
  if (typeof value !== "object" || value === null) return;
  if (!Array.isArray(value)) yield value as Json;
  for (const inner of Object.values(value)) yield* everyObject(inner);
}

function expectFields(value: Json, required: string[], optional: string[]): void {
  expect(Object.keys(value)).toEqual(expect.arrayContaining(required));
  expect([...required, ...optional]).toEqual(expect.arrayContaining(Object.keys(value)));
}

describe("checked in", () => {
  test.each([...contractFiles()])("%s is what the messages say now (else: npm run contract)", (path, content) => {
    expect(readFileSync(inCheckout(path), "utf8")).toBe(content);
  });

  test("no schema is left over from a message that is gone", () => {
    const names = readdirSync(inCheckout(SCHEMA_FOLDER)).map((name) => `${SCHEMA_FOLDER}/${name}`);
    expect(names.filter((name) => !contractFiles().has(name))).toEqual([]);
  });

  test("making them twice makes the same", () => {
    expect([...contractFiles()]).toEqual([...contractFiles()]);
    expect(asyncapiDocument()).toEqual(document);
  });
});

describe("JSON Schemas", () => {
  const schemas = [...contractFiles()].filter(([path]) => path.startsWith(SCHEMA_FOLDER));
  const taken = schemas.filter(([path]) => path.startsWith(`${SCHEMA_FOLDER}/request-`));
  const published = schemas.filter((file) => !taken.includes(file));

  const NEVER_OVER_MQTT = ["watch", "import", "export", "backup", "restore", "erase", "self-test"];
  test("there is one for each verb that is taken, and for the answer", () => {
    const names = taken.map(([path]) => path.slice(`${SCHEMA_FOLDER}/request-`.length, -".json".length));
    expect(names.sort()).toEqual(
      Object.keys(VERBS)
        .filter((verb) => !NEVER_OVER_MQTT.includes(verb))
        .sort(),
    );
    expect(published.map(([path]) => path)).toContain(`${SCHEMA_FOLDER}/response.json`);
  });

  test.each(schemas)("%s is a 2020-12 schema", (_path, content) => {
    const schema = JSON.parse(content) as Json;
    expect(schema["$schema"]).toBe("https://json-schema.org/draft/2020-12/schema");
    expect(new Ajv2020().validateSchema(schema)).toBe(true);
  });

  test.each(taken)("%s is strict", (_path, content) => {
    expect(JSON.parse(content)).toMatchObject({
      additionalProperties: false,
      required: expect.arrayContaining(["request_id", "asker"]),
    });
  });

  test.each(published)("%s is open: fields may be added", (_path, content) => {
    expect(content).not.toContain('"additionalProperties": false');
    expect(content).not.toContain("unevaluatedProperties");
  });

  test("numbers that carry a unit, and everything not said by its name, say what they mean", () => {
    const selfEvident = new Set(["station", "side", "style", "intent", "warm_up", "stop_reason", "efforts", "note"]);
    const moreSo = [
      "request_id",
      "ok",
      "error",
      "online",
      "exercise",
      "phase",
      "resting_force",
      "calibration_due",
      "firmware",
      "code",
      "since",
    ];
    for (const name of [...moreSo, "erased"]) selfEvident.add(name);
    for (const [path, content] of published) {
      for (const object of everyObject(JSON.parse(content))) {
        if (object["type"] !== "object" || object["properties"] === undefined) continue;
        for (const [name, property] of Object.entries(object["properties"] as Record<string, Json>)) {
          if (!selfEvident.has(name)) expect(property["description"], `${path}: ${name}`).toEqual(expect.any(String));
        }
      }
    }
  });
});

describe("AsyncAPI", () => {
  test("the root has what it must and nothing it may not", () => {
    expectFields(
      document,
      ["asyncapi", "info"],
      ["id", "servers", "defaultContentType", "channels", "operations", "components"],
    );
    expect(document["asyncapi"]).toBe("3.0.0");
    expectFields(
      at("#/info") as Json,
      ["title", "version"],
      ["description", "termsOfService", "contact", "license", "tags", "externalDocs"],
    );
  });

  test("every reference leads somewhere", () => {
    const references = [...everyObject(document)].flatMap(({ $ref }) => (typeof $ref === "string" ? [$ref] : []));
    expect(references.length).toBeGreaterThan(30);
    for (const reference of references) expect(at(reference), reference).toBeDefined();
  });

  test("servers: host and protocol, MQTT binding 0.2.0 with the will", () => {
    for (const [name, server] of objects("#/servers")) {
      expect(name).toMatch(/^[A-Za-z0-9_-]+$/);
      expectFields(
        server,
        ["host", "protocol"],
        ["pathname", "protocolVersion", "title", "summary", "description", "variables", "security", "tags", "bindings"],
      );
      const binding = (server["bindings"] as Json)["mqtt"] as Json;
      expectFields(
        binding,
        ["bindingVersion", "lastWill"],
        ["clientId", "cleanSession", "keepAlive", "sessionExpiryInterval", "maximumPacketSize"],
      );
      expect(binding["bindingVersion"]).toBe("0.2.0");
      expectFields(binding["lastWill"] as Json, ["topic", "qos", "message", "retain"], []);
    }
  });

  test("channels: an address whose expressions are exactly its parameters", () => {
    for (const [name, channel] of objects("#/channels")) {
      expectFields(
        channel,
        ["address", "messages"],
        ["title", "summary", "description", "servers", "parameters", "tags", "bindings"],
      );
      const address = channel["address"] as string;
      const expressions = [...address.matchAll(/\{([^}]+)\}/g)].map((match) => match[1]);
      expect(Object.keys(channel["parameters"] as Json).sort()).toEqual(expressions.sort());
      const [, ownerOfRequest, verb] = /^(station|recorder)-request-(.+)$/.exec(name) ?? [];
      const [ownerOfResponse] = /^(station|recorder)(?=-response$)/.exec(name) ?? [];
      if (ownerOfRequest !== undefined) {
        expect(address).toMatch(
          new RegExp(`/${ownerOfRequest}/{${ownerOfRequest}}/request/(read|train|service)/${verb}$`),
        );
      } else if (ownerOfResponse !== undefined) {
        expect(address).toContain(`/${ownerOfResponse}/{${ownerOfResponse}}/response/{asker}/{request_id}`);
      } else {
        expect(address.endsWith(`/${name}`)).toBe(true);
      }
      for (const parameter of Object.values(channel["parameters"] as Json)) {
        expectFields(followed(parameter), [], ["enum", "default", "description", "examples", "location"]);
      }
    }
  });

  // AsyncAPI 3.0.0, Runtime Expression: a location is looked for in the message of the channel.
  test("a parameter's location is a field of every message of its channel", () => {
    let located = 0;
    for (const [name, channel] of objects("#/channels")) {
      for (const parameter of Object.values(channel["parameters"] as Json)) {
        const location = followed(parameter)["location"] as string | undefined;
        if (location === undefined) continue;
        located += 1;
        const field = location.replace("$message.payload#/", "");
        for (const message of Object.values(channel["messages"] as Json)) {
          const payload = followed(followed(message)["payload"]);
          const alternatives = (payload["anyOf"] ?? [payload]) as Json[];
          for (const { properties } of alternatives) expect(Object.keys(properties as Json), name).toContain(field);
        }
      }
    }
    expect(located).toBeGreaterThan(0);
  });

  test("operations: send and receive from the recorder's side, messages out of their channel", () => {
    for (const [name, operation] of objects("#/operations")) {
      expectFields(
        operation,
        ["action", "channel"],
        ["title", "summary", "description", "security", "tags", "bindings", "traits", "messages", "reply"],
      );
      expect(operation["action"]).toBe(/^(watch|take)-/.test(name) ? "receive" : "send");
      const channel = (operation["channel"] as { $ref: string }).$ref;
      for (const message of operation["messages"] as { $ref: string }[]) {
        expect(message.$ref.startsWith(`${channel}/messages/`), message.$ref).toBe(true);
      }
      const binding = (operation["bindings"] as Json)["mqtt"] as Json;
      expectFields(binding, ["qos", "bindingVersion"], ["retain", "messageExpiryInterval"]);
      expect(binding["bindingVersion"]).toBe("0.2.0");
    }
  });

  test("a request is received on its own channel, and replied to beside it", () => {
    const requests = objects("#/operations").filter(([name]) => name.startsWith("take-"));
    expect(requests.length).toBeGreaterThan(15);
    const channels = requests.map(([, { channel }]) => (channel as { $ref: string }).$ref);
    expect(new Set(channels).size).toBe(requests.length);
    for (const [name, { channel, reply, bindings }] of requests) {
      const [owner] = /(?<=take-)(station|recorder)/.exec(name) ?? [];
      const asked = followed(channel)["address"] as string;
      expectFields(reply as Json, [], ["address", "channel", "messages"]);
      const { channel: answers, messages } = reply as { channel: { $ref: string }; messages: { $ref: string }[] };
      expect(answers.$ref).toBe(`#/channels/${owner}-response`);
      expect(messages).toEqual([{ $ref: `${answers.$ref}/messages/response` }]);
      expect((followed(answers)["address"] as string).split("/response/")[0]).toBe(asked.split("/request/")[0]);
      expect(bindings).toEqual({ mqtt: { qos: 1, retain: false, bindingVersion: "0.2.0" } });
    }
  });

  test("every channel is sent to once, or received from and replied on", () => {
    const sent = objects("#/operations")
      .filter(([name]) => !name.startsWith("watch-"))
      .map(([, { channel }]) => (channel as { $ref: string }).$ref);
    sent.push("#/channels/station-response", "#/channels/recorder-response");
    expect(sent.sort()).toEqual(
      objects("#/channels")
        .map(([name]) => `#/channels/${name}`)
        .sort(),
    );
  });

  test("retain and QoS are those of the topic table", () => {
    const told = objects("#/operations")
      .filter(([, { action }]) => action === "send")
      .map(([name, { bindings }]) => {
        const { qos, retain } = (bindings as { mqtt: { qos: number; retain: boolean } }).mqtt;
        return `${name} ${qos} ${retain}`;
      });
    expect(told).toEqual([
      "publish-live 0 false",
      "publish-state 1 true",
      "publish-effort 1 false",
      "publish-set 1 false",
      "publish-latest-set 1 true",
      "publish-sensor 1 true",
      "publish-presence 1 true",
    ]);
  });

  test("a payload is valid against one and only one message of its channel", () => {
    const ajv = new Ajv({ strict: false, validateFormats: false });
    const channels: Record<string, unknown[]> = {
      ...Object.fromEntries(Object.entries(SAMPLES).map(([name, sample]) => [name, [sample]])),
      set: [SAMPLES.set, ERASED_SET],
    };
    for (const [name, payloads] of Object.entries(channels)) {
      const messages = Object.values(at(`#/channels/${name}/messages`) as Json).map(followed);
      expect(messages.length).toBe(payloads.length);
      for (const payload of payloads) {
        const fitting = messages.filter((message) => ajv.validate(followed(message["payload"]), payload));
        expect(fitting.length, name).toBe(1);
      }
    }
  });
});
