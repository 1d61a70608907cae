/**
 * A broker inside the recorder, for a box that has none: MQTT 3.1.1, on loopback only because it asks no password, and
 * in memory only. What must last is in the store; retained topics are published again at every start.
 */
import { createServer, type Server, type Socket } from "node:net";
import { Aedes } from "aedes";
import { EMBEDDED_PACKET_BYTES } from "./broker-address.ts";
import { PacketLengths } from "./packet-lengths.ts";
import { StuckSockets } from "./stuck-sockets.ts";

const LOOPBACK = "127.0.0.1";

/** With ours. A box shows its values on a few screens; a program that forgets to hang up must not cost it its memory. */
const MOST_CONNECTIONS = 32;

/**
 * A subscriber that stops reading (a terminal stopped by its user) holds up the broker's delivery to everybody until it
 * is dropped. A living one on the same machine empties its buffers within milliseconds.
 */
const LOOK_FOR_STUCK_MS = 100;
/**
 * The broker's own clock for this is never to run out: it goes on while the whole process is stalled, and then strikes
 * before anybody could read. 0 would be without end as well, but hangs a listener on the socket for each message that waits.
 */
const NEVER_MS = 2 ** 31 - 1;

export interface EmbeddedBroker {
  /** The port it listens on; never 0. */
  readonly port: number;
  stop(): Promise<void>;
}

export type BrokerStart =
  | { readonly ok: true; readonly broker: EmbeddedBroker }
  | { readonly ok: false; readonly problem: string };

/** Starts on `port`, or on any free one for 0. A port that cannot be had is a value: one sentence with what would do. */
export async function startEmbeddedBroker(port: number): Promise<BrokerStart> {
  const broker = await Aedes.createBroker({ drainTimeout: NEVER_MS });
  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.once("close", () => sockets.delete(socket));
    socket.setNoDelay(true);
    refuseLongPackets(socket);
    broker.handle(socket);
  });
  server.maxConnections = MOST_CONNECTIONS;
  const stuck = new StuckSockets();
  const looking = setInterval(() => {
    for (const socket of stuck.look(sockets)) socket.destroy();
  }, LOOK_FOR_STUCK_MS);
  const closeBroker = (): Promise<void> => new Promise((resolve) => broker.close(() => resolve()));

  const problem = await listen(server, port);
  if (problem !== null) {
    clearInterval(looking);
    await closeBroker();
    return { ok: false, problem };
  }
  const address = server.address();
  if (address === null || typeof address === "string") throw new Error("the broker listens on no TCP port");

  let stopped: Promise<void> | undefined;
  const stop = async (): Promise<void> => {
    clearInterval(looking);
    const closed = new Promise<void>((resolve) => server.close(() => resolve()));
    await closeBroker();
    // Connections that never said who they are belong to no client, so the broker has not closed them.
    for (const socket of sockets) socket.destroy();
    await closed;
  };
  return {
    ok: true,
    broker: {
      port: address.port,
      stop() {
        stopped ??= stop();
        return stopped;
      },
    },
  };
}

/**
 * Hangs up on who announces a packet that is too long: the broker has no limit of its own and would gather all of it, even
 * from one that never said who it is (moscajs/aedes#831, moscajs/aedes#1086).
 */
function refuseLongPackets(socket: Socket): void {
  const lengths = new PacketLengths(EMBEDDED_PACKET_BYTES);
  const read = socket.read.bind(socket);
  // The one way in which the broker takes bytes. It must not see those of a packet that is refused.
  socket.read = (size) => {
    const bytes: Buffer | null = read(size);
    if (bytes === null || lengths.take(bytes)) return bytes;
    socket.destroy();
    return null;
  };
}

function listen(server: Server, port: number): Promise<string | null> {
  return new Promise((resolve, reject) => {
    server.once("error", (error: NodeJS.ErrnoException) => {
      if (error.code === "EADDRINUSE") {
        resolve(
          `Port ${port} on ${LOOPBACK} is taken by another program: stop it, set another embedded_broker.port, or name that broker in [broker].`,
        );
      } else if (error.code === "EACCES") {
        resolve(`Port ${port} may not be opened by this user: set an embedded_broker.port above 1023.`);
      } else {
        reject(error);
      }
    });
    server.listen(port, LOOPBACK, () => {
      server.removeAllListeners("error");
      // One connection that could not be taken (no file left to open) ends neither the broker nor the recorder.
      server.on("error", () => {});
      resolve(null);
    });
  });
}
