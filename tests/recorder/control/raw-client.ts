/** A client of a control socket that knows nothing of ours: it writes bytes and collects lines. */
import { connect, type Socket } from "node:net";

/** A line from the recorder, as its reader expects it to be. */
export interface Line {
  readonly request_id: string | null;
  readonly ok?: boolean;
  readonly result?: unknown;
  readonly error?: { readonly code: string; readonly message: string; readonly hint?: string };
  readonly event?: { readonly station: string; readonly topic: string; readonly message: { readonly n: number } };
}

export interface RawClient {
  readonly socket: Socket;
  readonly send: (...lines: readonly (string | object)[]) => void;
  /** The lines so far, once there are so many. */
  readonly lines: (count: number) => Promise<readonly Line[]>;
  /** Every line there ever was, once the other side has hung up. */
  readonly closed: Promise<readonly Line[]>;
}

export async function rawClient(path: string): Promise<RawClient> {
  const socket = connect(path);
  const lines: Line[] = [];
  const waiting = new Set<() => void>();
  let rest = "";
  socket.setEncoding("utf8");
  socket.on("data", (text: string) => {
    const parts = (rest + text).split("\n");
    rest = parts.pop()!;
    for (const part of parts) lines.push(JSON.parse(part));
    for (const wake of waiting) wake();
  });
  const closed = new Promise<readonly Line[]>((resolve) => socket.once("close", () => resolve(lines)));
  await new Promise<void>((resolve, reject) => {
    socket.once("connect", resolve);
    socket.once("error", reject);
  });
  // The other side may hang up while we still speak.
  socket.on("error", () => {});
  return {
    socket,
    send: (...values) => {
      for (const value of values) socket.write(typeof value === "string" ? value : `${JSON.stringify(value)}\n`);
    },
    lines: (count) =>
      new Promise((resolve) => {
        const wake = (): void => {
          if (lines.length < count) return;
          waiting.delete(wake);
          resolve(lines);
        };
        waiting.add(wake);
        wake();
      }),
    closed,
  };
}
