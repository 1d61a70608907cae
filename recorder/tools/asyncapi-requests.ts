/**
 * The part of the AsyncAPI document that is asked and answered: a channel for each verb at each topic where it is taken,
 * and the channels of the answers, which a request's own fields name.
 */
import type { Owner } from "../../protocol/messages/topics.ts";
import { ownersOf } from "../../protocol/requests/over-mqtt.ts";
import { VERBS, type Verb } from "../../protocol/requests/verbs.ts";
import { askableVerbs, RESPONSE, requestName } from "./json-schemas.ts";

type Json = Record<string, unknown>;

const OWNERS: readonly Owner[] = ["station", "recorder"];

const RIGHTS = {
  read: "Taken unless control.mqtt leaves it out.",
  train: "Taken where control.mqtt lists train.",
  service: "Taken where control.mqtt lists service.",
} as const;

/** What a response's topic is made of. Its asker stands in the request alone, and a location must be in the channel's own message. */
export const RESPONSE_PARAMETERS: Readonly<Record<string, Json>> = {
  asker: {
    description:
      "The broker user's name. Let the broker give each user the right to read its own answers and nobody else's, and the recorder alone the right to write there.",
  },
  request_id: { description: "The request's.", location: "$message.payload#/request_id" },
};

const parametersOf = (names: readonly string[]): Json =>
  Object.fromEntries(names.map((name) => [name, { $ref: `#/components/parameters/${name}` }]));

const messagesOf = (name: string): Json => ({ [name]: { $ref: `#/components/messages/${name}` } });

const responseChannel = (owner: Owner): string => `${owner}-response`;
const requestChannel = (owner: Owner, verb: Verb): string => `${owner}-request-${verb}`;

const asked = OWNERS.flatMap((owner) =>
  askableVerbs()
    .filter((verb) => ownersOf(verb).includes(owner))
    .map((verb) => ({ owner, verb, group: VERBS[verb].group })),
);

export function requestChannels(): Json {
  const requests = asked.map(({ owner, verb, group }) => [
    requestChannel(owner, verb),
    {
      address: `{root}/{site}/${owner}/{${owner}}/request/${group}/${verb}`,
      description: `${RIGHTS[group]} Not retained: a request that is, is ignored. None is queued for a recorder that is not there.`,
      parameters: parametersOf(["root", "site", owner]),
      messages: messagesOf(requestName(verb)),
    },
  ]);
  const responses = OWNERS.map((owner) => [
    responseChannel(owner),
    {
      address: `{root}/{site}/${owner}/{${owner}}/response/{asker}/{request_id}`,
      description:
        "One answer to each request that can be read, to the one who asked. Not retained, and not sent again: subscribe first, and ask again, byte for byte, where none comes.",
      parameters: parametersOf(["root", "site", owner, "asker", "request_id"]),
      messages: messagesOf(RESPONSE.name),
    },
  ]);
  return Object.fromEntries([...requests, ...responses]);
}

export function requestOperations(bindingVersion: string): Json {
  return Object.fromEntries(
    asked.map(({ owner, verb }) => {
      const channel = `#/channels/${requestChannel(owner, verb)}`;
      const reply = `#/channels/${responseChannel(owner)}`;
      return [
        `take-${requestChannel(owner, verb)}`,
        {
          action: "receive",
          channel: { $ref: channel },
          summary: `Carries out ${verb} for the ${owner} of the topic.`,
          messages: [{ $ref: `${channel}/messages/${requestName(verb)}` }],
          bindings: { mqtt: { qos: 1, retain: false, bindingVersion } },
          reply: { channel: { $ref: reply }, messages: [{ $ref: `${reply}/messages/${RESPONSE.name}` }] },
        },
      ];
    }),
  );
}
