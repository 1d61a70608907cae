import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, beforeEach, expect, test, vi } from "vitest";
import { runCli } from "../../../recorder/cli/cli.ts";
import type { RunService } from "../../../recorder/control/ports.ts";
import { cli, fakeTerminal } from "./fake-terminal.ts";

// The service has a room of its own; here it is what it is started with.
const runService = vi.hoisted(() => vi.fn<RunService>());
vi.mock("../../../recorder/run/run.ts", () => ({ runService }));

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
  expect(runService.mock.calls[0]?.[0]).toMatchObject({ configuration: null, ...more });
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
latitude_deg = 52.0
`,
  );
  runService.mockResolvedValue(1);
  const { exit, out, error } = await cli("run", "--config", file);
  expect([exit, out]).toEqual([1, ""]);
  expect(error).toMatch(/^mind: station\[0\]\.serial_port is \/dev\/ttyUSB0, which may name another board/);
  expect(runService.mock.calls[0]?.[0]).toMatchObject({
    configuration: { site: "hall", station: [{ id: "row" }] },
    once: false,
  });
});

test("a faulty configuration starts nothing", async () => {
  const { exit } = await cli("run", "--config", join(directory, "none.toml"));
  expect(exit).toBe(78);
  expect(runService).not.toHaveBeenCalled();
});

test("what is said while stations are drawn stays above them, and is not drawn over", async () => {
  runService.mockImplementation(async ({ show, say }) => {
    show({ station: "row", topic: "live", message: { phase: "idle" } });
    say("subscribe with any MQTT client");
    show({ station: "row", topic: "live", message: { phase: "armed" } });
    return 0;
  });
  const terminal = fakeTerminal(30);
  expect(await runCli(["run", "--simulate"], terminal)).toBe(0);
  expect(terminal.said).toEqual([
    "\x1b[2Krow            idle      forc\n",
    "\x1b[1A\x1b[2Ksubscribe with any MQTT client\n\x1b[2Krow            idle      forc\n",
    "\x1b[1A\x1b[2Krow            armed     forc\n",
  ]);
});
