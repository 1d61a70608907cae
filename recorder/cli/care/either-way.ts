/** Work on the whole record that the recorder does where it runs, and that is done here where it does not. */
import { connect } from "node:net";
import type { Outcome } from "../../../protocol/requests/response.ts";
import { DEFAULT_CONFIGURATION_FILE, readConfiguration, sayFaults } from "../../configuration/read.ts";
import { type Question, type Reply, replyOf } from "../client.ts";
import { BAD_CONFIGURATION, type FlagValues, textOf } from "../command.ts";
import { askPatiently } from "./moving.ts";

/** Without a recorder; the store's path. */
export type Here = (store_path: string) => Promise<Outcome>;

export function eitherWay(flags: FlagValues, here: Here): (question: Question) => Promise<Reply> {
  return async (question) => {
    // Somebody who names a socket means the recorder behind it.
    if (textOf(flags, "socket") !== undefined || (await answers(question.path))) return askPatiently(question);
    const file = textOf(flags, "config") ?? DEFAULT_CONFIGURATION_FILE;
    // Its secrets are the broker's, and nothing is said to a broker here.
    const read = readConfiguration(file, () => ({ ok: true, secret: "" }));
    if (!read.ok) {
      const message = `no recorder runs here, and where its store is cannot be read: ${sayFaults(file, read.faults)}`;
      return { ok: false, failure: { exit: BAD_CONFIGURATION, message } };
    }
    return replyOf(await here(read.configuration.store.path));
  };
}

/** Somebody listens there, or there is one whom this user may not speak to: that, too, is for the recorder's door to say. */
export function answers(socket_path: string): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(socket_path);
    socket.once("connect", () => {
      socket.destroy();
      resolve(true);
    });
    socket.once("error", ({ code }: NodeJS.ErrnoException) => resolve(code !== "ENOENT" && code !== "ECONNREFUSED"));
  });
}
