/**
 * One connection to a control socket: requests in as lines, answers out as lines, each as soon as it is there. A reader
 * that does not read is not read from either, so that what we hold for one connection has a bound.
 */
import type { Socket } from "node:net";
import { type Outcome, type RequestEvent, type Response, refused } from "../../protocol/requests/response.ts";
import type { VerbGroup } from "../../protocol/requests/verbs.ts";
import type { Dispatch, Stream } from "./dispatcher.ts";
import { jsonText } from "./json-text.ts";
import { createLineReader, LINE_BYTES } from "./line-reader.ts";
import type { Log, WatchEvent } from "./ports.ts";
import { readRequestLine } from "./request-line.ts";
import { createWaitingEvents } from "./waiting-events.ts";

export interface ConnectionPorts {
  readonly dispatch: Dispatch;
  readonly log: Log;
  readonly groups: readonly VerbGroup[];
}

/** Ends the connection's streams with their answers. */
export type EndStreams = () => void;

/** Requests of one connection that may be under way at once. */
const OUTSTANDING = 32;
/** How long a peer has to take what was sent and hang up, ms. */
const FAREWELL_MS = 1000;

export function serveConnection(socket: Socket, { dispatch, log, groups }: ConnectionPorts): EndStreams {
  const reader = createLineReader();
  const streams = new Set<OpenStream>();
  const endStreams = (): void => {
    for (const stream of streams) stream.end();
  };
  let outstanding = 0;
  let heardAll = false;

  const write = (text: string): void => {
    if (!socket.writable) return;
    if (!socket.write(`${text}\n`)) socket.pause();
  };
  const send = (value: Response | RequestEvent): void => write(JSON.stringify(value));

  const answer = async (line: Buffer): Promise<void> => {
    const read = readRequestLine(line);
    if (!read.ok) return send(read.response);
    const { request_id, verb, args } = read;
    if (outstanding >= OUTSTANDING) return send({ request_id, ...TOO_MANY });
    outstanding++;
    const stream = openStream(socket, (event) => send({ request_id, event }), log);
    streams.add(stream);
    const outcome = await dispatch({ verb, args, groups, door: "socket", request_id, stream });
    streams.delete(stream);
    write(await jsonText({ request_id, ...outcome }));
    outstanding--;
    if (heardAll && outstanding === 0) socket.end();
  };

  const hear = (chunk: Buffer): void => {
    for (const line of reader.take(chunk)) {
      if (line === "too-long") {
        send({ request_id: null, ...TOO_LONG });
        socket.off("data", hear);
        endStreams();
        farewell(socket);
        return;
      }
      answer(line).catch((error: unknown) => {
        log.error({ err: error }, "a connection to a control socket failed");
        socket.destroy();
      });
    }
  };

  socket.on("data", hear);
  socket.on("drain", () => {
    for (const stream of streams) stream.flush();
    if (!socket.writableNeedDrain) socket.resume();
  });
  socket.on("end", () => {
    heardAll = true;
    endStreams();
    if (outstanding === 0) socket.end();
  });
  // A peer that vanishes is everyday; `close` follows.
  socket.on("error", () => {});
  socket.on("close", endStreams);
  return endStreams;
}

interface OpenStream extends Stream {
  /** Sends what waits, as far as the reader keeps up. */
  readonly flush: () => void;
  readonly end: () => void;
}

function openStream(socket: Socket, send: (event: WatchEvent) => void, log: Log): OpenStream {
  const waiting = createWaitingEvents();
  const over = new AbortController();
  const flush = (): void => {
    while (!socket.writableNeedDrain) {
      const event = waiting.next();
      if (event === undefined) return;
      send(event);
    }
  };
  const event = (happened: WatchEvent): void => {
    if (socket.destroyed) return;
    if (waiting.push(happened)) flush();
    else {
      log.warn({}, "a watcher that did not read was disconnected");
      socket.destroy();
    }
  };
  return { event, signal: over.signal, flush, end: () => over.abort() };
}

/** Ends a connection so that the peer can still read what was sent, and is not waited for if it does not hang up. */
export function farewell(socket: Socket): void {
  socket.resume();
  socket.end();
  const impatience = setTimeout(() => socket.destroy(), FAREWELL_MS);
  socket.once("close", () => clearTimeout(impatience));
}

const TOO_LONG: Outcome = refused("bad-request", `The line is over ${LINE_BYTES} bytes.`, "The connection is closed.");
const TOO_MANY: Outcome = refused(
  "busy",
  `${OUTSTANDING} requests of this connection are under way.`,
  "Wait for their answers.",
);
