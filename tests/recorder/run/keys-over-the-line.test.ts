/**
 * Every rule of the keys once over the line of a simulated board, with the whole recorder behind it: what a press does is
 * seen in `state`, what the machine answers is seen in the lamp lines the board got. Time goes twice as fast.
 */
import { setTimeout } from "node:timers/promises";
import { afterEach, expect, it } from "vitest";
import type { LiveMessage, StateMessage } from "../../../protocol/messages/station.ts";
import type { SavedZero } from "../../../recorder/ports.ts";
import { realTime } from "../../../recorder/simulated-gym/pace.ts";
import { trainee } from "../../../recorder/simulated-gym/trainees.ts";
import { startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

afterEach(stopAll);

const STATION = "knee-extension";
const SPEED = 2;
const HOLDER = trainee("wren-21", 520, { F_per_s: 0.002, R_per_s: 0.0015, rest_multiplier: 15 }, { style: "hold" });

it("begin, disarm, resting, refuse, end, acknowledge, begin again, zero", async () => {
  const zeros: SavedZero[] = [];
  const pace = realTime({
    now_ms: () => performance.now() * SPEED,
    sleep: (for_ms, signal) => setTimeout(for_ms / SPEED, undefined, { signal }),
  });
  const running = await startGym(placed(), true, pace, (store) => {
    const { saveZero } = store;
    Object.assign(store, {
      saveZero(station: string, zero: SavedZero) {
        if (station === STATION) zeros.push(zero);
        return saveZero(station, zero);
      },
    });
  });
  const station = running.gym.station(STATION);
  /** What lamp 2 was changed to, from being off. */
  const lamp2: string[] = [];
  const hear = station.hear.bind(station);
  station.hear = (text) => {
    // Said again every two seconds, whatever it is.
    for (const [, to] of text.matchAll(/^L,\d+,2,(\w+)\*/gm)) {
      if (to !== undefined && to !== (lamp2.at(-1) ?? "off")) lamp2.push(to);
    }
    hear(text);
  };
  const newest = (topic: string): unknown =>
    running.heard.findLast((event) => event.station === STATION && event.topic === topic)?.message;
  const state = () => newest("state") as StateMessage | undefined;
  const live = () => newest("live") as LiveMessage | undefined;
  const until = async (what: string, holds: () => boolean): Promise<void> => {
    for (let waited_ms = 0; !holds(); waited_ms += 20) {
      if (waited_ms > 20_000) throw new Error(`waited in vain: ${what}; ${JSON.stringify(state())}`);
      await setTimeout(20);
    }
  };
  const phase = (wanted: string): Promise<void> => until(wanted, () => state()?.phase === wanted);
  const pressed = async (key: number, becomes: string): Promise<void> => {
    station.press(key);
    await phase(becomes);
  };
  const refused = async (key: number): Promise<void> => {
    const before = state()?.phase;
    lamp2.length = 0;
    station.press(key);
    await until("three short blinks", () => lamp2.filter((to) => to === "off").length === 3);
    expect(lamp2).toEqual(["on", "off", "on", "off", "on", "off"]);
    expect(state()?.phase).toBe(before);
  };

  await until("it is ready", () =>
    running.heard.some(
      ({ station: at, topic, message }) =>
        at === STATION && topic === "sensor" && (message as { ready?: boolean }).ready === true,
    ),
  );
  const zeroed = zeros.length;
  station.press(2);
  await until("its zero is kept", () => zeros.length > zeroed);

  await pressed(1, "armed");
  await pressed(1, "idle");
  await pressed(1, "armed");
  station.press(2);
  await until("the resting force is taken", () => state()?.resting_force === "taken");
  station.sit(HOLDER);
  await phase("working");
  // Ended sooner, it would come to nothing.
  await until("there is a best", () => (live()?.best_force_N ?? 0) > 300);
  await refused(2);
  await pressed(1, "finished");
  expect(state()?.stop_reason).toBe("on-request");
  const ended_us = station.now_us;
  station.sit(null);
  const { set_id } = state() as StateMessage;
  station.press(1);
  await until("three seconds are over", () => station.now_us > ended_us + 2_500_000);
  expect(state()).toMatchObject({ phase: "finished", set_id });
  await until("the end's own lamp is out", () => station.now_us > ended_us + 5_000_000);
  await refused(2);
  await pressed(1, "armed");
}, 60_000);
