/** Starts a bare forwarder; resolves once it reads its line. */
import type { ChildProcess } from "node:child_process";
import { once } from "node:events";
import { fileURLToPath } from "node:url";
import type { Forwarding } from "./forwarder.ts";
import type { Stage } from "./stage.ts";

const FORWARDER = fileURLToPath(new URL("./forwarder.js", import.meta.url));

export async function startForwarder(stage: Stage, forwarding: Forwarding): Promise<ChildProcess> {
  const child = stage.start(process.execPath, [FORWARDER, JSON.stringify(forwarding)], { talks: true });
  await once(child, "message");
  return child;
}
