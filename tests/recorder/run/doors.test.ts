import { expect, it } from "vitest";
import { doorsOf } from "../../../recorder/run/doors.ts";
import { Publisher } from "../../../recorder/run/publisher.ts";
import { StationLoop } from "../../../recorder/run/station-loop.ts";
import { newStation } from "../../../recorder/station/state.ts";
import { BEGINS_MS, KEPT, stationConfiguration } from "../station/bench.ts";

it("status says of each station what its line cannot show", () => {
  const now = () => ({ ms: 0, wall_ms: BEGINS_MS, clock_synced: true });
  const loopOf = (changes: object): StationLoop =>
    new StationLoop(newStation(stationConfiguration(changes), false), { now, signal: () => {}, keep: () => {} });
  const loops = [loopOf({ id: "press" }), loopOf({ id: "row", dialect: "bare", board: undefined })];
  const doors = doorsOf({
    loops: new Map(loops.map((loop) => [loop.id, loop])),
    store: { history: () => Promise.reject(new Error("nobody asks")) },
    publisher: new Publisher({ recorder: KEPT.recorder, boot: KEPT.boot, simulated: false }, "tidemark", "hall"),
    time_zone: "UTC",
    now,
    log: { warn: () => {}, error: () => {} },
    recorder: () => ({ recorder: KEPT.recorder }),
  });
  expect(doors.status()).toMatchObject({
    recorder: KEPT.recorder,
    stations: [
      { station: "press", limits: [] },
      { station: "row", limits: expect.arrayContaining([expect.any(String)]) },
    ],
  });
});
