/** A simulated day that does not end as it should: the recorder is stopped whatever happens. */
import { expect, it, vi } from "vitest";
import type { Started } from "../../../recorder/run/service.ts";
import { simulate } from "../../../recorder/run/simulate.ts";
import type { directGym } from "../../../recorder/simulated-gym/direct.ts";
import { SILENT } from "./gym-service.ts";

const service = vi.hoisted(() => ({
  broker: "mqtt://127.0.0.1:1883",
  dispatch: vi.fn(),
  watch: vi.fn(),
  broken: new Promise<string>(() => {}),
  settled: vi.fn(async () => {}),
  stop: vi.fn(async () => {}),
}));
vi.mock("../../../recorder/run/service.ts", () => ({
  startService: async (): Promise<Started> => ({ ok: true, service }),
}));
// Every plan is done at once.
vi.mock("../../../recorder/simulated-gym/direct.ts", () => ({
  directGym: ((_gym, plans, { closed }) => {
    for (const { station } of plans) closed(station);
    return () => {};
  }) as typeof directGym,
}));

const run = (said: string[]) =>
  simulate({
    once: true,
    log: SILENT,
    show: () => {},
    say: (line) => said.push(line),
    stopped: new AbortController().signal,
  });

it("a store that is lost while the last sets are waited for is said, and the recorder stopped", async () => {
  service.stop.mockClear();
  service.settled.mockRejectedValueOnce(new Error("the storage thread died; restart the recorder"));
  const said: string[] = [];
  expect(await run(said)).toBe(1);
  expect(said.at(-1)).toBe("the storage thread died; restart the recorder");
  expect(service.stop).toHaveBeenCalledOnce();
});

it("whatever breaks, the recorder is stopped first", async () => {
  service.stop.mockClear();
  service.watch.mockImplementationOnce(() => {
    throw new RangeError("a broken program");
  });
  await expect(run([])).rejects.toThrow("a broken program");
  expect(service.stop).toHaveBeenCalledOnce();
});
