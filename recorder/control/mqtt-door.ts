/**
 * The door at the broker: requests in as messages, answers out as messages, QoS 1 and never retained. A flood, a broker
 * that is slow and a message that makes no sense cost a bounded amount of memory and a count.
 */
import { createHash } from "node:crypto";
import type { Envelope } from "../../protocol/messages/parts.ts";
import {
  type RequestOwner,
  type RequestTopic,
  readRequestTopic,
  requestFilter,
  responseTopic,
} from "../../protocol/messages/topics.ts";
import { type Outcome, refused } from "../../protocol/requests/response.ts";
import type { VerbGroup } from "../../protocol/requests/verbs.ts";
import { canonicalJson } from "./canonical-json.ts";
import type { Dispatch } from "./dispatcher.ts";
import { jsonText } from "./json-text.ts";
import { type AskedByMqtt, expiry, type ReadMqttRequest, readMqttRequest, type Unanswerable } from "./mqtt-request.ts";
import type { Log } from "./ports.ts";
import { RecentAnswers } from "./recent-answers.ts";
import { Unheard } from "./unheard.ts";

/** What the broker made of an answer. `lost`: it has not taken it, and nobody tries again. */
export type Posted = "taken" | "too-large" | "lost";

export interface MqttDoorOptions {
  readonly root: string;
  readonly site: string;
  readonly recorder: string;
  readonly stations: readonly string[];
  /** What may be asked here at all. */
  readonly groups: readonly VerbGroup[];
  readonly dispatch: Dispatch;
  readonly bus: {
    listen(filters: readonly string[], hear: (topic: string, payload: Buffer, retained: boolean) => void): void;
    /** `tree`: the topics among which this one is, for saying that the broker refuses them. */
    answer(topic: string, payload: string, tree: string): Promise<Posted>;
  };
  /** The envelope of a message that is made now. */
  readonly envelope: () => Envelope;
  /** Monotonic. */
  readonly now_ms: () => number;
  readonly log: Log;
}

export interface MqttDoor {
  /** Requests since the start that got no answer, by why. */
  unheard(): Readonly<Record<string, number>>;
  /** Hears nothing more. What is under way is still answered. */
  close(): void;
}

type Why = Unanswerable | "retained" | "answers-waiting";

/** Requests carried out at once, and answers that may wait for the broker together with them; bytes of the latter. */
const UNDER_WAY = 32;
const WAITING = 64;
const WAITING_BYTES = 8 * 1024 * 1024;

export function openMqttDoor(options: MqttDoorOptions): MqttDoor {
  const { root, site, groups, dispatch, envelope } = options;
  const recent = new RecentAnswers();
  const unheard = new Unheard<Why>(SENTENCES, options.log, options.now_ms);
  let waiting = 0;
  let waiting_bytes = 0;
  let open = true;

  const payloadOf = (request_id: string, outcome: Outcome): string =>
    JSON.stringify({ ...envelope(), request_id, ...outcome });

  const post = async (to: Caller, payload: string): Promise<void> => {
    if (waiting_bytes + payload.length > WAITING_BYTES) return unheard.count("answers-waiting");
    waiting_bytes += payload.length;
    const tree = `${root}/${site}/${to.owner}/${to.id}/response/#`;
    const topic = responseTopic(root, site, to, to.asker, to.request_id);
    const posted = await options.bus.answer(topic, payload, tree);
    waiting_bytes -= payload.length;
    if (posted === "too-large") {
      await options.bus.answer(topic, payloadOf(to.request_id, tooLarge(Buffer.byteLength(payload))), tree);
    }
  };

  /** Takes a place for as long as `work` takes. */
  const during = (work: Promise<void>): void => {
    waiting += 1;
    const leave = (): void => {
      waiting -= 1;
    };
    work.then(leave, (error: unknown) => {
      leave();
      options.log.error({ err: error }, "a request over MQTT failed");
    });
  };

  const carryOut = async (topic: RequestTopic, to: Caller, asked: AskedByMqtt): Promise<void> => {
    const acts = topic.group !== "read";
    recent.begin(to.name, to.content);
    const { at, clock_synced } = envelope();
    const late = acts ? expiry(asked, clock_synced ? Date.parse(at) : null) : null;
    const outcome =
      late ??
      (await dispatch({
        verb: topic.verb,
        args: asked.args,
        groups: groups.filter((group) => group === topic.group),
        door: "mqtt",
        request_id: to.request_id,
        asker: to.asker,
        ...(topic.owner === "station" ? { within: topic.id } : {}),
      }));
    const payload = await jsonText({ ...envelope(), request_id: to.request_id, ...outcome });
    recent.answered(to.name, to.content, payload, acts);
    await post(to, payload);
  };

  /** What comes of a request that can be answered; null: it is under way already, and has one answer. */
  const answer = (topic: RequestTopic, to: Caller, read: Answerable): Promise<void> | null => {
    const met = recent.meet(to.name, to.content);
    if (met.is === "under-way") return null;
    if (met.is === "answered") return post(to, met.payload);
    if (met.is === "another") return post(to, payloadOf(to.request_id, REUSED));
    if (read.is === "refused") return post(to, payloadOf(to.request_id, read.outcome));
    if (waiting >= UNDER_WAY) return post(to, payloadOf(to.request_id, TOO_MANY));
    return carryOut(topic, to, read.asked);
  };

  /** Takes a request in hand; or why nobody will be answered. */
  const take = (address: string, topic: RequestTopic, payload: Buffer): Why | null => {
    if (waiting >= WAITING) return "answers-waiting";
    const read = readMqttRequest(topic, payload);
    if (read.is === "unreadable") return read.why;
    const { request_id, asker } = read.is === "asked" ? read.asked : read;
    const name = `${asker}/${request_id}`;
    // Whoever asks again may say that it asks again now, and write the rest in another order.
    const asked = read.is === "asked" ? canonicalJson(read.asked.args) : payload;
    const content = createHash("sha256").update(address).update("\0").update(asked).digest("base64");
    const under_way = answer(topic, { owner: topic.owner, id: topic.id, request_id, asker, name, content }, read);
    if (under_way !== null) during(under_way);
    return null;
  };

  const hear = (address: string, payload: Buffer, retained: boolean): void => {
    const topic = readRequestTopic(address);
    if (!open || topic === null) return;
    // One that stands at the broker would be carried out at every connect.
    const why = retained ? "retained" : take(address, topic, payload);
    if (why !== null) unheard.count(why);
  };

  options.bus.listen(filtersOf(options), hear);
  return {
    unheard: () => unheard.counts(),
    close() {
      open = false;
    },
  };
}

type Answerable = Exclude<ReadMqttRequest, { readonly is: "unreadable" }>;

/** Who asked, and how the request is known again. */
interface Caller extends RequestOwner {
  readonly request_id: string;
  readonly asker: string;
  readonly name: string;
  readonly content: string;
}

function filtersOf({ root, site, recorder, stations, groups }: MqttDoorOptions): string[] {
  const owners: readonly RequestOwner[] = [
    ...stations.map((id) => ({ owner: "station", id }) as const),
    { owner: "recorder", id: recorder },
  ];
  return owners.flatMap((of) => [...new Set(groups)].map((group) => requestFilter(root, site, of, group)));
}

const SENTENCES: Readonly<Record<Why, string>> = {
  "too-long": "A request over MQTT was too long to be read, and did not begin with who sent it.",
  "not-json": "A request over MQTT was not JSON in UTF-8.",
  "not-an-object": "A request over MQTT was not a JSON object.",
  "too-deep": "A request over MQTT nested deeper than any request.",
  "no-request-id": "A request over MQTT had no request_id that is a UUID.",
  "no-asker": "A request over MQTT had no asker, which is the broker user's name.",
  retained: "A request over MQTT was sent to be retained, and is ignored: send it without the retain flag.",
  "answers-waiting": "The broker takes our answers too slowly, so requests over MQTT are dropped.",
};

const REUSED = refused(
  "bad-request",
  "This request_id was used already, for a request of another content.",
  "Give every request a new UUID.",
);
const TOO_MANY = refused("busy", `${UNDER_WAY} requests over MQTT are under way.`, "Wait for their answers.");
const tooLarge = (bytes: number): Outcome =>
  refused(
    "out-of-range",
    `The answer has ${bytes} bytes, more than the broker takes.`,
    "Ask for less at once, or at a control socket.",
  );
