/**
 * Finds who stopped reading what we write. Looked at now and then, each time after the event loop has had its turn at the
 * network: a program that was stalled itself has missed looks as well, and does not take its own absence for theirs.
 */
import type { Socket } from "node:net";

/** Looks in a row at which a socket waited for room and none of what it waited with had gone. */
const STUCK_LOOKS = 4;

interface Seen {
  /** Bytes that the kernel has taken. */
  readonly taken: number;
  readonly looks: number;
}

export class StuckSockets {
  #seen = new Map<Socket, Seen>();

  /** Those of `sockets` that are stuck by now. */
  look(sockets: Iterable<Socket>): readonly Socket[] {
    const seen = new Map<Socket, Seen>();
    for (const socket of sockets) {
      if (!socket.writableNeedDrain) continue;
      const taken = socket.bytesWritten - socket.writableLength;
      const before = this.#seen.get(socket);
      seen.set(socket, { taken, looks: before?.taken === taken ? before.looks + 1 : 1 });
    }
    this.#seen = seen;
    return [...seen].flatMap(([socket, { looks }]) => (looks >= STUCK_LOOKS ? [socket] : []));
  }
}
