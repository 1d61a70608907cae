import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, beforeEach, expect, test, vi } from "vitest";
import type { RunService } from "../../../recorder/control/ports.ts";
import { cli } from "./fake-terminal.ts";

// The service has a room of its own; here it is what it is started with.
const runService = vi.hoisted(() => vi.fn<RunService>());
vi.mock("../../../recorder/run/service.ts", () => ({ runService }));

let directory: string;
beforeAll(() => {
  directory = mkdtempSync(join(tmpdir(), "tidemark-run-"));
});
afterAll(() => rmSync(directory, { recursive: true }));
beforeEach(() => {
  runService.mockReset().mockResolvedValue(0);
});

test.each([
  [[], { once: false, debug: false }],
  [["--once"], { once: true, debug: false }],
  [["--debug"], { once: false, debug: true }],
])("simulated, with %j", async (words, more) => {
  expect(await cli("run", "--simulate", ...words)).toEqual({ exit: 0, out: "", error: "" });
  expect(runService.mock.calls).toEqual([[{ configuration: null, simulate: true, ...more }]]);
});

test("configured: the configuration as read, its warnings said, the service's exit code passed on", async () => {
  const file = join(directory, "tidemark.toml");
  writeFileSync(
    file,
    `site = "hall"
recorder = "box"
[store]
path = "x.db"
[[station]]
id = "row"
exercise = "row"
serial_port = "/dev/ttyUSB0"
resistance = "driven"
cell_capacity_N = 5000
force_limit_N = 4000
working_force_N = 2500
`,
  );
  runService.mockResolvedValue(1);
  const { exit, out, error } = await cli("run", "--config", file);
  expect([exit, out]).toEqual([1, ""]);
  expect(error).toMatch(/^mind: station\[0\]\.serial_port is \/dev\/ttyUSB0, which may name another board/);
  expect(runService.mock.calls[0]?.[0]).toMatchObject({
    configuration: { site: "hall", station: [{ id: "row" }] },
    simulate: false,
    once: false,
  });
});

test("a faulty configuration starts nothing", async () => {
  const { exit } = await cli("run", "--config", join(directory, "none.toml"));
  expect(exit).toBe(78);
  expect(runService).not.toHaveBeenCalled();
});
