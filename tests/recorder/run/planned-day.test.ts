/** A day by plan at a whole recorder: tags alone say who trains, and everything else comes from what their trainer decided. */
import { afterEach, expect, it } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { Verb } from "../../../protocol/requests/verbs.ts";
import type { Side } from "../../../protocol/vocabulary.ts";
import { trainee } from "../../../recorder/simulated-gym/trainees.ts";
import { validateMessage } from "../../protocol/messages/validate.ts";
import { endAll, subscriber, until } from "../mqtt/loopback.ts";
import { type GymService, startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

afterEach(async () => {
  await endAll();
  await stopAll();
});

const STATION = "knee-extension";
const WREN = "wren-21";
const PLAN = {
  sides: ["left", "right"],
  style: "hold",
  fatigue_threshold: 0.75,
  setup: { seat: "4", pin: "7" },
  by_side: { right: { setup: { pin: "8" } } },
  warm_up: { sets: 1, fatigue_threshold: 0.2 },
};

/** The boards' days are as long as the computer is quick: the wall clock goes with them from set to set. */
function clock() {
  const from_ms = Date.parse("2026-12-01T08:00:00.000Z");
  const day = { passed_ms: 0 };
  return {
    day,
    host: {
      now() {
        const ms = performance.now();
        return { ms, wall_ms: from_ms + day.passed_ms, clock_synced: true };
      },
    },
  };
}

async function result<T>(running: GymService, verb: Verb, args: object): Promise<T> {
  const outcome = await running.ask(verb, args);
  if (!outcome.ok) throw new Error(outcome.error.message);
  return outcome.result as T;
}

interface State {
  readonly phase: string;
  readonly trainee: string | null;
  readonly side: Side | null;
  readonly fatigue_threshold: number | null;
  readonly setup: Readonly<Record<string, string>>;
  readonly comparable_set: SetMessage | null;
}

async function ready(running: GymService): Promise<void> {
  for (;;) {
    const { stations } = await result<{ stations: { sensor: { ready: boolean } }[] }>(running, "status", {
      station: STATION,
    });
    if (stations[0]?.sensor.ready) return;
    await running.next(({ topic }) => topic === "live");
  }
}

/** Shows a tag, trains whoever it stands for until somebody ends it; how it was set up, and the set. */
async function turn(running: GymService, tag: string, whose: string) {
  const armed = running.next(
    ({ topic, station, message }) => station === STATION && topic === "state" && (message as State).phase === "armed",
  );
  const at = running.gym.station(STATION);
  at.present(tag);
  const state = (await armed).message as unknown as State;
  // A fresh one each time.
  at.sit(trainee(whose, 520, { F_per_s: 0.002, R_per_s: 0.0015, rest_multiplier: 15 }, { style: "hold" }));
  // A warm-up may be over before anybody ends it.
  const kept = running.next(({ topic, station }) => topic === "set" && station === STATION);
  await running.next(
    ({ topic, station, message }) =>
      topic === "live" && station === STATION && ((message as { best_force_N: number | null }).best_force_N ?? 0) > 300,
  );
  await running.ask("end", { station: STATION, because: "done" });
  const set = (await kept).message as unknown as SetMessage;
  // Nobody on it any more: what is left of a force would begin the next set.
  at.sit(null);
  await running.next(
    ({ topic, station, message }) =>
      topic === "live" && station === STATION && ((message as { max_force_N: number | null }).max_force_N ?? 99) < 10,
  );
  return { state, set };
}

it("sides take turns, each begins with its warm-up, and the display is told seat, pin and the set to compare", {
  timeout: 90_000,
}, async () => {
  const { day, host } = clock();
  const running = await startGym(placed(), true, undefined, undefined, host);
  const listening = await subscriber(running.port, "tidemark/#");
  await result(running, "plan-save", { station: STATION, trainee: WREN, ...PLAN, performed_by: "P-01" });
  await result(running, "tag-save", { tag: "04/A2", trainee: WREN });
  await ready(running);

  const turns: Awaited<ReturnType<typeof turn>>[] = [];
  // A band and a card: the same tag again within 5 s of the board's time would be the same presentation.
  for (let number = 0; number < 5; number++) {
    turns.push(await turn(running, number % 2 === 0 ? "04/A2" : WREN, WREN));
    day.passed_ms += 600_000;
  }
  expect(turns.map(({ set }) => [set.side, set.warm_up, set.fatigue_threshold])).toEqual([
    ["left", true, 0.2],
    ["right", true, 0.2],
    ["left", false, 0.75],
    ["right", false, 0.75],
    ["left", false, 0.75],
  ]);
  expect(turns.map(({ state }) => state.setup["pin"])).toEqual(["7", "8", "7", "8", "7"]);
  // Warm-ups are compared with nothing, and nothing with them.
  const compared = turns.map(({ state }) => state.comparable_set?.set_id ?? null);
  expect(compared).toEqual([null, null, null, null, turns[2]?.set.set_id]);

  // The same at the broker, in messages as they were published.
  const topic = `tidemark/paper-hall/station/${STATION}/state`;
  await until(() => {
    const states = listening.payloads(topic).map((payload) => JSON.parse(payload) as State);
    expect(states.findLast(({ phase }) => phase === "armed")).toMatchObject({
      trainee: WREN,
      setup: { seat: "4", pin: "7" },
      comparable_set: { set_id: turns[2]?.set.set_id },
    });
  });
  for (const payload of listening.payloads(topic)) expect(validateMessage("state", payload)).toEqual([]);

  // On another seat it is another quantity; and another day begins with the first side.
  await result(running, "plan-save", { station: STATION, trainee: WREN, setup: { seat: "5" }, warm_up: null });
  day.passed_ms += 24 * 3_600_000;
  const { state } = await turn(running, WREN, WREN);
  expect(state).toMatchObject({ side: "left", setup: { seat: "5", pin: "7" }, comparable_set: null });
  expect(running.errors).toEqual([]);
});

it("another tag while somebody is set up sets up by its own trainee's plan, and so does key 1 after it", {
  timeout: 60_000,
}, async () => {
  const running = await startGym(placed());
  await result(running, "plan-save", { station: STATION, trainee: WREN, ...PLAN });
  await result(running, "plan-save", { station: STATION, trainee: "heron-07", sides: ["both"], setup: { seat: "2" } });
  await ready(running);
  const armedFor = (code: string) =>
    running.next(({ topic, message }) => {
      const state = message as unknown as State;
      return topic === "state" && state.phase === "armed" && state.trainee === code;
    });
  for (const [code, side, setup] of [
    [WREN, "left", PLAN.setup],
    ["heron-07", "both", { seat: "2" }],
  ] as const) {
    const armed = armedFor(code);
    running.gym.station(STATION).present(code);
    expect((await armed).message).toMatchObject({ side, setup });
  }
  const idle = running.next(({ topic, message }) => topic === "state" && (message as State).phase === "idle");
  running.gym.station(STATION).press(1);
  await idle;
  const again = armedFor("heron-07");
  running.gym.station(STATION).press(1);
  expect((await again).message).toMatchObject({ side: "both", setup: { seat: "2" } });
});
