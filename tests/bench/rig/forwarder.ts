/**
 * What a bare program would do in the recorder's place: read lines, publish each. It publishes a message as large as the
 * recorder's own, given to it, and sends small packets at once as the recorder does.
 */
import { Socket } from "node:net";
import { ReadlineParser } from "@serialport/parser-readline";
import { connectAsync } from "mqtt";
import { SerialPort } from "serialport";

export interface Forwarding {
  readonly path: string;
  readonly broker_port: number;
  readonly topic: string;
  /** Only lines that hold this; null: each. */
  readonly only: string | null;
  readonly qos: 0 | 1;
  readonly retain: boolean;
}

const { path, broker_port, topic, only, qos, retain } = JSON.parse(process.argv[2] ?? "") as Forwarding;
let payload = "";
process.on("message", (text: string) => {
  payload = text;
});
process.on("disconnect", () => process.exit());

const client = await connectAsync(`mqtt://127.0.0.1:${broker_port}`, { protocolVersion: 5 });
if (client.stream instanceof Socket) client.stream.setNoDelay(true);
const port = new SerialPort({ path, baudRate: 115_200, hupcl: false });
port.pipe(new ReadlineParser({ delimiter: "\n" })).on("data", (line: string) => {
  if (only === null || line.includes(only)) client.publish(topic, payload === "" ? line : payload, { qos, retain });
});
port.once("open", () => process.send?.("ready"));
