/** Flat out is fast, and yet no flood: a line takes 160 times real time before what is sent has to wait. */
import { expect, it } from "vitest";
import { SimulatedGym } from "../../../recorder/simulated-gym/gym.ts";
import { flatOut } from "../../../recorder/simulated-gym/pace.ts";
import { gymConfiguration, stationsOf } from "../../../recorder/simulated-gym/scenario.ts";

const SEED = 20_260;
const PLACES = { store: "/nowhere/t.db", socket: "/nowhere/a.sock", service_socket: "/nowhere/b.sock", port: 0 };

it("goes at 100 times real time on a computer that could do anything at once", async () => {
  const configuration = gymConfiguration(PLACES);
  const station = new SimulatedGym(stationsOf(configuration, SEED), SEED).station("leg-press");
  let now_ms = 0;
  const clock = {
    now_ms: () => now_ms,
    sleep: async (for_ms: number) => {
      now_ms += for_ms;
    },
  };
  const pace = flatOut(clock);
  const ended = new AbortController().signal;
  for (let move = 0; move < 600; move++) {
    await pace.move(station, ended);
    // Two seconds of the board's time may come at once.
    expect(station.now_us - 2_050_000).toBeLessThanOrEqual(100 * now_ms * 1000);
  }
  expect(station.elapsed_s).toBeCloseTo(30, 6);
  expect(now_ms).toBeGreaterThan(270);
  // Whoever was away is not made up for but for that.
  now_ms += 60_000;
  const before_us = station.now_us;
  const then_ms = now_ms;
  for (let move = 0; move < 200; move++) await pace.move(station, ended);
  expect(station.now_us - before_us).toBeCloseTo(10_000_000, -2);
  expect(now_ms - then_ms).toBeGreaterThan(75);
});
