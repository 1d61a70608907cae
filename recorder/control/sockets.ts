/** The two control sockets: one for read and train verbs, one for all. Who may connect is decided by file groups. */
import { chmod } from "node:fs/promises";
import { createServer, type Server, type Socket } from "node:net";
import { refused } from "../../protocol/requests/response.ts";
import type { VerbGroup } from "../../protocol/requests/verbs.ts";
import { type EndStreams, farewell, serveConnection } from "./connection.ts";
import type { Dispatch } from "./dispatcher.ts";
import type { Log } from "./ports.ts";
import { makeRoom, sayCode } from "./socket-file.ts";

export interface SocketsOptions {
  /** Paths. */
  readonly socket: string;
  readonly service_socket: string;
  readonly dispatch: Dispatch;
  readonly log: Log;
}

export interface ControlSockets {
  /** Ends every stream with its answer, hangs up and removes the socket files. */
  close(): Promise<void>;
}

export type OpenedSockets =
  | { readonly ok: true; readonly sockets: ControlSockets }
  /** One sentence saying why not. */
  | { readonly ok: false; readonly message: string };

/** Connections a socket serves at once. */
const CONNECTIONS = 16;
/** Connections that may be waiting to hear that they are too many; beyond it they are dropped unheard. */
const TURNED_AWAY = 48;

export async function openSockets(options: SocketsOptions): Promise<OpenedSockets> {
  const first = await openDoor(options.socket, ["read", "train"], options);
  if (!first.ok) return first;
  const second = await openDoor(options.service_socket, ["read", "train", "service"], options);
  if (!second.ok) {
    await first.sockets.close();
    return second;
  }
  const close = async (): Promise<void> => {
    await Promise.all([first.sockets.close(), second.sockets.close()]);
  };
  return { ok: true, sockets: { close } };
}

async function openDoor(
  path: string,
  groups: readonly VerbGroup[],
  { dispatch, log }: SocketsOptions,
): Promise<OpenedSockets> {
  const obstacle = await makeRoom(path);
  if (obstacle !== null) return { ok: false, message: obstacle };

  const open = new Map<Socket, EndStreams>();
  const server = createServer({ allowHalfOpen: true }, (socket) => {
    if (open.size >= CONNECTIONS) return turnAway(socket);
    open.set(socket, serveConnection(socket, { dispatch, log, groups }));
    socket.once("close", () => open.delete(socket));
  });
  server.maxConnections = CONNECTIONS + TURNED_AWAY;

  const failure = await listen(server, path);
  if (failure !== null) return { ok: false, message: `the socket ${path} cannot be opened (${failure})` };
  server.on("error", (error) => log.error({ err: error, path }, "a control socket failed"));

  const close = async (): Promise<void> => {
    const closed = new Promise((resolve) => server.close(resolve));
    for (const endStreams of open.values()) endStreams();
    // The streams' answers are on their way through promises already; they are to be written before we hang up.
    await new Promise(setImmediate);
    for (const socket of open.keys()) farewell(socket);
    await closed;
  };
  return { ok: true, sockets: { close } };
}

/** null: it listens, and only its owner and group may connect. */
async function listen(server: Server, path: string): Promise<string | null> {
  try {
    await new Promise<void>((resolve, reject) => {
      server.once("error", reject);
      server.listen(path, () => {
        server.off("error", reject);
        resolve();
      });
    });
    await chmod(path, 0o660);
    return null;
  } catch (error) {
    server.close();
    return sayCode(error);
  }
}

function turnAway(socket: Socket): void {
  socket.on("error", () => {});
  const refusal = refused("busy", `${CONNECTIONS} connections are open already.`, "Close one and connect again.");
  socket.write(`${JSON.stringify({ request_id: null, ...refusal })}\n`);
  farewell(socket);
}
