/** A port that another program has, such as a modem manager that looks at it: it is tried again, and said once. */
import { afterEach, beforeEach, expect, it, vi } from "vitest";
import { linkOf } from "../../../recorder/run/station-link.ts";
import { StationLoop } from "../../../recorder/run/station-loop.ts";
import { openTrouble } from "../../../recorder/serial/trouble.ts";
import { newStation } from "../../../recorder/station/state.ts";
import { fakeOpener } from "../serial/fake-port.ts";
import { BEGINS_MS, stationConfiguration } from "../station/bench.ts";

const PATH = "/dev/press";

beforeEach(() => vi.useFakeTimers({ toFake: ["setTimeout", "clearTimeout", "performance"] }));
afterEach(() => vi.useRealTimers());

it("busy three times, then free: it is opened, and the log has one line of it", async () => {
  // EBUSY as the system gives it, open(2), through the sentence the port's opener makes of it.
  const busy = Object.assign(new Error("EBUSY: resource busy, open"), { code: "EBUSY" });
  const refused = new Error(openTrouble(busy, { path: PATH, user: "tidemark", node: null }));
  const opener = fakeOpener();
  opener.next(refused, refused, refused);
  const logged: string[] = [];
  const loop = new StationLoop(newStation(stationConfiguration(), false), {
    now: () => ({ ms: performance.now(), wall_ms: BEGINS_MS, clock_synced: true }),
    signal: () => {},
    keep: (effect) => {
      if (effect.do === "log") logged.push(effect.text);
    },
  });
  const causes = () => loop.station.desk.causes;
  const link = linkOf(loop, PATH, opener.open);
  // After 0.5, 1 and 2 s, each up to a fifth sooner.
  await vi.advanceTimersByTimeAsync(2500);
  expect(opener.paths).toHaveLength(3);
  expect(causes()).toMatchObject({ line: refused.message, closed: expect.anything() });
  await vi.advanceTimersByTimeAsync(1000);
  expect(opener.paths).toHaveLength(4);
  expect(opener.ports).toHaveLength(1);
  expect(causes()).toMatchObject({ line: null, closed: null });
  expect(logged).toEqual([expect.stringMatching(/^\/dev\/press is in use by another program: .*; retrying\.$/)]);
  const closed = link.close();
  await vi.advanceTimersByTimeAsync(1000);
  await closed;
});
