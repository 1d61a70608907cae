/** The broker's side of a recorder in a process of its own, to be killed. */
import { clientIdOf } from "../../recorder/mqtt/broker-address.ts";
import { startBus } from "../../recorder/mqtt/bus.ts";
import { SAMPLES } from "../protocol/messages/samples.ts";

const { PORT, BOOT, PASSWORD_FILE, PRESENCE } = process.env;
if (PORT === undefined || BOOT === undefined || PASSWORD_FILE === undefined || PRESENCE === undefined) process.exit(1);

startBus({
  address: { url: `mqtt://127.0.0.1:${PORT}`, protocol_version: 5, username: "box", password_file: PASSWORD_FILE },
  client_id: clientIdOf("tidemark", "hall", "box"),
  presence_topic: PRESENCE,
  presence: (reason) => JSON.stringify({ ...SAMPLES.presence, boot: BOOT, reason, online: reason === "start" }),
  now_ms: () => performance.now(),
  date: () => ({ at_ms: Date.now(), clock_synced: true }),
  random: Math.random,
  onStatus: () => {},
  log: () => {},
});
