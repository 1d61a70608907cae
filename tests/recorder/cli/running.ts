/** A recorder without stations behind real sockets, in a directory of its own. */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { createDispatcher } from "../../../recorder/control/dispatcher.ts";
import { openSockets } from "../../../recorder/control/sockets.ts";
import { type Behaviour, type FakeGym, fakeGym } from "../control/fake-gym.ts";

export interface Running {
  readonly gym: FakeGym;
  readonly directory: string;
  readonly socket: string;
  readonly service_socket: string;
  readonly stop: () => Promise<void>;
}

export async function running(behaviour: Behaviour = {}): Promise<Running> {
  const directory = mkdtempSync(join(tmpdir(), "tidemark-cli-"));
  const paths = { socket: join(directory, "control.sock"), service_socket: join(directory, "service.sock") };
  const gym = fakeGym(behaviour);
  const opened = await openSockets({ ...paths, dispatch: createDispatcher(gym), log: gym.log });
  if (!opened.ok) throw new Error(opened.message);
  const stop = async (): Promise<void> => {
    await opened.sockets.close();
    rmSync(directory, { recursive: true });
  };
  return { gym, directory, ...paths, stop };
}
