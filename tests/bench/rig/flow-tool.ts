/**
 * A general-purpose flow tool doing the same as the recorder, as its users would have it: serial in, a function that makes
 * live values of the line, MQTT out. It reckons a force and writes the same fields; check sums, faults, sets and floors it
 * leaves out. Installed by npm into the bench's own folder; no editor, no user interface, nothing told to anybody.
 */
import { spawnSync } from "node:child_process";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { SAMPLES } from "../../protocol/messages/samples.ts";
import type { Stage } from "./stage.ts";

const PACKAGES = ["node-red@4", "node-red-node-serialport@2"];

/** Null: it runs; otherwise why not, in one sentence. */
export function startFlowTool(stage: Stage, path: string, broker_port: number, topic: string): string | null {
  const folder = join(stage.folder, "flow-tool");
  const install = ["install", "--prefix", folder, "--no-audit", "--no-fund", "--silent", ...PACKAGES];
  const { status, stderr } = spawnSync("npm", install, { stdio: ["ignore", "ignore", "pipe"], encoding: "utf8" });
  if (status !== 0) return `npm cannot install it: ${stderr.trim().split("\n")[0] || `exit code ${status}`}`;
  const settings = {
    flowFile: "flows.json",
    httpAdminRoot: false,
    httpNodeRoot: false,
    disableEditor: true,
    uiHost: "127.0.0.1",
    uiPort: 0,
    telemetry: { enabled: false, updateNotification: false },
    logging: { console: { level: "error", metrics: false, audit: false } },
  };
  writeFileSync(join(folder, "settings.js"), `module.exports = ${JSON.stringify(settings)};\n`);
  writeFileSync(join(folder, "flows.json"), JSON.stringify(flow(path, broker_port, topic)));
  const main = join(folder, "node_modules", "node-red", "red.js");
  stage.start(process.execPath, [main, "--userDir", folder, "--settings", join(folder, "settings.js")]);
  return null;
}

const flow = (path: string, broker_port: number, topic: string): readonly Record<string, unknown>[] => [
  { id: "tab", type: "tab", label: "forward" },
  {
    id: "port",
    type: "serial-port",
    serialport: path,
    serialbaud: "115200",
    databits: "8",
    parity: "none",
    stopbits: "1",
    dtr: "none",
    rts: "none",
    cts: "none",
    dsr: "none",
    newline: "\\n",
    bin: "false",
    out: "char",
    addchar: "",
    responsetimeout: "10000",
  },
  {
    id: "broker",
    type: "mqtt-broker",
    broker: "127.0.0.1",
    port: String(broker_port),
    autoConnect: true,
    usetls: false,
    protocolVersion: "5",
    keepalive: "60",
    cleansession: true,
  },
  { id: "in", type: "serial in", z: "tab", serial: "port", wires: [["live"]] },
  { id: "live", type: "function", z: "tab", func: LIVE, outputs: 1, wires: [["out"]] },
  { id: "out", type: "mqtt out", z: "tab", topic, qos: "0", retain: "false", broker: "broker", wires: [] },
];

const LIVE = `
const counts = Number(msg.payload.split("*")[0].split(",")[3]);
const force_N = Math.round((counts - 12000) / 4) / 100;
const live_seq = (context.get("seq") || 0) + 1;
context.set("seq", live_seq);
const own = { at: new Date().toISOString(), live_seq, force_N, min_force_N: force_N, max_force_N: force_N };
msg.payload = JSON.stringify(Object.assign({}, ${JSON.stringify(SAMPLES.live)}, own));
return msg;
`;
