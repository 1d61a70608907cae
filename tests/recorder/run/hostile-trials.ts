/**
 * Wrong requests at each door of a whole recorder: every one is answered as it should be or counted, nothing is changed by
 * them, and memory is what it was.
 */
import { randomUUID } from "node:crypto";
import { connect, type Socket } from "node:net";
import { setFlagsFromString } from "node:v8";
import { runInNewContext } from "node:vm";
import { connectAsync } from "mqtt";
import { afterEach, describe, expect, test } from "vitest";
import { isVerb, VERBS, type Verb, type VerbRule } from "../../../protocol/requests/verbs.ts";
import type { Configuration } from "../../../recorder/configuration/schema.ts";
import { realTime } from "../../../recorder/simulated-gym/pace.ts";
import { type Hostile, hostileRequests } from "../control/hostile-requests.ts";
import { type GymService, startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

const SEED = 4711;
/** Fewer than may be under way, and small enough that no buffer on the way fills up: the broker drops who is slow to read. */
const BATCH = 16;
/** What the heap may grow by from a fifth of a trial to its end, beside what is of the measuring: bytes of each request. */
const LEAK_BYTES = 10;
const MEASURING_BYTES = 1_000_000;

setFlagsFromString("--expose-gc");
const collect = runInNewContext("gc") as () => void;

async function heapUsed(): Promise<number> {
  await new Promise(setImmediate);
  collect();
  return process.memoryUsage().heapUsed;
}

/** Everything that a request could have changed. */
async function standing(running: GymService): Promise<unknown> {
  const status = await running.ask("status");
  if (!status.ok) throw new Error(status.error.message);
  const { stations } = status.result as { stations: { state: object; sensor: Record<string, unknown> }[] };
  const calibrations = await running.ask("calibrations", { station: "knee-extension" });
  return {
    stations: stations.map(({ state, sensor }) => ({
      state,
      alarms: sensor["alarms"],
      calibration_id: sensor["calibration_id"],
    })),
    sets: await running.ask("sets"),
    calibrations,
  };
}

/** Runs a trial on a recorder that has come to rest; nothing may have changed after it, and no line say what must not be. */
async function held(
  requests: number,
  configuration: Configuration,
  trial: (running: GymService, mark: () => Promise<void>) => Promise<void>,
) {
  const running = await startGym(configuration, true, realTime());
  await running.next(({ topic, message }) => topic === "live" && (message as { force_N: unknown }).force_N !== null);
  const before = await standing(running);
  let early = 0;
  await trial(running, async () => {
    early = await heapUsed();
  });
  const late = await heapUsed();
  expect(early).toBeGreaterThan(0);
  expect(late - early).toBeLessThan(requests * LEAK_BYTES + MEASURING_BYTES);
  expect(await standing(running)).toEqual(before);
  expect(running.errors).toEqual([]);
}

interface Answered {
  readonly request_id: string | null;
  readonly ok: boolean;
  readonly error?: { readonly code: string };
}

/** Whether the answer is one that the request may have. */
function fits({ request_id, codes }: Hostile, answer: Answered): boolean {
  const named = request_id === undefined || answer.request_id === request_id;
  return named && !answer.ok && codes.includes(answer.error?.code ?? "");
}

const isNeverTaken = (verb: string): boolean => isVerb(verb) && (VERBS[verb] as VerbRule).over_mqtt === false;
const groupOf = (verb: string): string | undefined =>
  Object.hasOwn(VERBS, verb) ? VERBS[verb as Verb].group : undefined;

/** A client that sends up to 32 at once and takes as many answers. */
async function client(path: string) {
  const socket: Socket = connect(path);
  await new Promise((resolve) => socket.once("connect", resolve));
  let rest = "";
  let answers: Answered[] = [];
  let wake = (): void => {};
  socket.setEncoding("utf8");
  socket.on("data", (text: string) => {
    const lines = (rest + text).split("\n");
    rest = lines.pop() ?? "";
    for (const line of lines) answers.push(JSON.parse(line) as Answered);
    wake();
  });
  return {
    end: () => socket.destroy(),
    async ask(batch: readonly Hostile[]): Promise<readonly Answered[]> {
      answers = [];
      socket.write(Buffer.concat(batch.flatMap(({ bytes }) => [bytes, NEWLINE])));
      while (answers.length < batch.length) {
        await new Promise<void>((resolve) => {
          wake = resolve;
        });
      }
      return answers;
    },
  };
}
const NEWLINE = Buffer.from("\n");

const lines = {
  wrap: (verb: string, request_id: unknown, args: object) => ({ verb, request_id, ...args }),
  elsewhere: "unknown-station",
  // A stream is for a door of its own; what it is asked wrongly is asked of the others as well.
  verbs: (verb: string) => verb !== "watch",
};

/** Registers the trials of each door; `requests` is a multiple of 80. */
export function hostileTrials(requests: number): void {
  const timeout = 120_000 + requests * 2;
  afterEach(stopAll);

  describe("the sockets", () => {
    test.each(["socket", "service_socket"] as const)("control.%s", { timeout }, async (which) => {
      const configuration = placed();
      await held(requests, configuration, async (_running, mark) => {
        const refused = which === "socket" ? "service" : "none";
        const next = hostileRequests(SEED, lines);
        const connection = await client(configuration.control[which]);
        for (let sent = 0; sent < requests; sent += BATCH) {
          if (sent === requests / 5) await mark();
          const batch = Array.from({ length: BATCH }, next);
          const answers = await connection.ask(batch);
          const unanswered = batch.filter((hostile) => {
            // A socket that does not take a verb says so before it looks at what is asked.
            const allowed =
              groupOf(hostile.verb) === refused && hostile.request_id !== null ? ["not-permitted"] : hostile.codes;
            const asked = {
              ...hostile,
              codes: hostile.request_id === undefined ? [...allowed, "not-permitted"] : allowed,
            };
            return !answers.some((answer) => fits(asked, answer));
          });
          if (unanswered.length > 0) expect.fail(`${unanswered[0]?.bytes} among ${JSON.stringify(answers)}`);
        }
        connection.end();
      });
    });
  });

  describe("the broker", () => {
    test("requests of every group", { timeout }, async () => {
      const configuration = placed();
      const control = { ...configuration.control, mqtt: ["read", "train", "service"] as const };
      await held(
        requests,
        { ...configuration, control: { ...control, mqtt: [...control.mqtt] } },
        async (running, mark) => {
          const next = hostileRequests(SEED + 1, {
            wrap: (_verb, request_id, args) => ({ request_id, asker: "tablet", ...args }),
            elsewhere: "bad-request",
          });
          const hall = "tidemark/paper-hall/station/knee-extension";
          const stranger = await connectAsync(`mqtt://127.0.0.1:${running.port}`);
          const expected = new Map<string, Hostile>();
          const wrong: string[] = [];
          let answered = 0;
          let fence = (): void => {};
          stranger.on("message", (topic, payload) => {
            if (topic.includes("/response/fence/")) return fence();
            answered += 1;
            const answer = JSON.parse(payload.toString()) as Answered;
            const hostile = expected.get(answer.request_id ?? "");
            if (hostile !== undefined && !fits(hostile, answer)) wrong.push(`${hostile.bytes}: ${payload}`);
            expected.delete(answer.request_id ?? "");
          });
          await stranger.subscribeAsync(`${hall}/response/#`);
          for (let sent = 0; sent < requests; sent += BATCH) {
            if (sent === requests / 5) await mark();
            for (const hostile of Array.from({ length: BATCH }, next)) {
              const { verb, request_id } = hostile;
              // A stream or a whole record is never taken here, whatever is wrong with it.
              const codes = isNeverTaken(verb) ? [...hostile.codes, "not-permitted"] : hostile.codes;
              if (typeof request_id === "string") expected.set(request_id, { ...hostile, codes });
              stranger.publish(`${hall}/request/${groupOf(verb) ?? "read"}/${verb}`, hostile.bytes, { qos: 0 });
            }
            // One that is right: with its answer those of all before it are there.
            const passed = new Promise<void>((resolve) => {
              fence = resolve;
            });
            const payload = JSON.stringify({ request_id: randomUUID(), asker: "fence" });
            stranger.publish(`${hall}/request/read/status`, payload, { qos: 0 });
            await passed;
            if (wrong.length > 0) expect.fail(wrong[0]);
          }
          expect(expected.size).toBe(0);
          const status = await running.ask("status");
          const { broker } = (status as { result: { broker: { unheard_requests: Record<string, number> } } }).result;
          const unheard = Object.values(broker.unheard_requests).reduce((sum, count) => sum + count, 0);
          expect(answered + unheard).toBe(requests);
          expect(Object.keys(broker.unheard_requests).sort()).toEqual([
            "no-asker",
            "no-request-id",
            "not-an-object",
            "not-json",
            "too-deep",
          ]);
          await stranger.endAsync(true);
        },
      );
    });
  });
}
