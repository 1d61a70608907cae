/** A real broker on loopback for one bench. */
import { writeFileSync } from "node:fs";
import { userInfo } from "node:os";
import { join } from "node:path";
import { connectAsync, type MqttClient } from "mqtt";
import { freePort } from "../../system/free-port.ts";
import { pause, type Stage } from "./stage.ts";

/** Resolves with its port, once it takes connections. */
export async function startBroker(stage: Stage): Promise<number> {
  const port = await freePort();
  const lines = [
    `listener ${port} 127.0.0.1`,
    "allow_anonymous true",
    `user ${userInfo().username}`,
    "persistence false",
    // Small messages go out at once (mosquitto.conf(5)): else who publishes second waits for the first one's confirmation.
    "set_tcp_nodelay true",
    "log_dest none",
  ];
  const path = join(stage.folder, "broker.conf");
  writeFileSync(path, `${lines.join("\n")}\n`);
  const child = stage.start("mosquitto", ["-c", path]);
  for (;;) {
    if (child.exitCode !== null) throw new Error(`the broker ended with ${child.exitCode}`);
    try {
      await (await subscribe(port, "none", () => {})).endAsync();
      return port;
    } catch {
      await pause(20);
    }
  }
}

/** A connection of its own, so that no message of another one stands before ours. */
export async function subscribe(
  port: number,
  topic: string,
  heard: (payload: Buffer, topic: string) => void,
): Promise<MqttClient> {
  const client = await connectAsync(`mqtt://127.0.0.1:${port}`, { protocolVersion: 5, reconnectPeriod: 0 });
  client.on("message", (from, payload) => heard(payload, from));
  await client.subscribeAsync(topic, { qos: 1 });
  return client;
}
