import { randomUUID } from "node:crypto";
import { existsSync, mkdirSync, mkdtempSync, rmSync, statSync, writeFileSync } from "node:fs";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { afterEach, beforeEach, describe, expect, test } from "vitest";
import { done } from "../../../protocol/requests/response.ts";
import { createDispatcher } from "../../../recorder/control/dispatcher.ts";
import { type ControlSockets, openSockets } from "../../../recorder/control/sockets.ts";
import { type Behaviour, type FakeGym, fakeGym, SET_ID } from "./fake-gym.ts";
import { type Line, type RawClient, rawClient } from "./raw-client.ts";

let directory: string;
let opened: ControlSockets[];
let clients: RawClient[];

beforeEach(() => {
  directory = mkdtempSync(join(tmpdir(), "tidemark-sockets-"));
  opened = [];
  clients = [];
});
afterEach(async () => {
  for (const { socket } of clients) socket.destroy();
  for (const sockets of opened) await sockets.close();
  rmSync(directory, { recursive: true });
});

const paths = (under = "run") => ({
  socket: join(directory, under, "control.sock"),
  service_socket: join(directory, under, "service.sock"),
});

async function serve(behaviour: Behaviour = {}): Promise<FakeGym> {
  const gym = fakeGym(behaviour);
  const result = await openSockets({ ...paths(), dispatch: createDispatcher(gym), log: gym.log });
  if (!result.ok) throw new Error(result.message);
  opened.push(result.sockets);
  return gym;
}
async function client(path = paths().socket): Promise<RawClient> {
  const made = await rawClient(path);
  clients.push(made);
  return made;
}
async function refusalOf(given: { socket: string; service_socket: string }): Promise<string> {
  const gym = fakeGym();
  const result = await openSockets({ ...given, dispatch: createDispatcher(gym), log: gym.log });
  if (!result.ok) return result.message;
  opened.push(result.sockets);
  return "opened";
}
const modeOf = (path: string): string => (statSync(path).mode & 0o777).toString(8);

describe("requests and answers", () => {
  test("one line each, matched by request_id", async () => {
    const gym = await serve({ answer: async () => done({ set_id: "s" }) });
    const { send, lines } = await client();
    const id = randomUUID();
    send({ verb: "begin", request_id: id, station: "row", trainee: "T-07" });
    expect(await lines(1)).toEqual([{ request_id: id, ok: true, result: { set_id: "s" } }]);
    expect(gym.asked).toMatchObject([
      { station: "row", request: { args: { trainee: "T-07" } }, asker: { door: "socket" } },
    ]);
  });

  test("a refusal carries code, message and hint", async () => {
    await serve();
    const { send, lines } = await client();
    send({ verb: "end", request_id: randomUUID(), station: "rwo" });
    expect((await lines(1))[0]?.error).toEqual({
      code: "unknown-station",
      message: "There is no station rwo here.",
      hint: "Did you mean row? There are: leg-press, row.",
    });
  });

  test("the service socket takes service verbs, the other does not", async () => {
    await serve();
    const [narrow, wide] = [await client(), await client(paths().service_socket)];
    const request = { verb: "inspected", request_id: randomUUID(), station: "row" };
    narrow.send(request);
    wide.send(request);
    expect((await narrow.lines(1))[0]?.error?.code).toBe("not-permitted");
    expect((await wide.lines(1))[0]?.ok).toBe(true);
  });

  test("a set with a very long curve is written while others are answered", async () => {
    const gym = await serve();
    const long = Array.from({ length: 100_000 }, (_, at) => at);
    let begun = false;
    const curveOf = async () => {
      begun = true;
      return { elapsed_s: long, force_N: long };
    };
    Object.assign(gym, { curveOf });
    const { send, lines } = await client();
    const [curious, other] = [randomUUID(), randomUUID()];
    send({ verb: "set", request_id: curious, set_id: SET_ID, curve: true });
    while (!begun) await new Promise(setImmediate);
    send({ verb: "status", request_id: other });
    expect((await lines(2)).map(({ request_id }) => request_id)).toEqual([other, curious]);
    expect((await lines(2))[1]).toMatchObject({ ok: true, result: { curve: { force_N: long } } });
  });

  test("a long one does not hold up the next", async () => {
    let finish = (): void => {};
    const held = new Promise<void>((resolve) => {
      finish = resolve;
    });
    await serve({
      answer: async ({ request }) => {
        if (request.verb === "calibration-zero") await held;
        return done(request.verb);
      },
    });
    const { send, lines } = await client(paths().service_socket);
    send(
      { verb: "calibration-zero", request_id: randomUUID(), station: "row" },
      { verb: "calibration-abandon", request_id: randomUUID(), station: "row" },
    );
    expect((await lines(1)).map(({ result }) => result)).toEqual(["calibration-abandon"]);
    finish();
    expect((await lines(2)).map(({ result }) => result)).toEqual(["calibration-abandon", "calibration-zero"]);
  });

  test("requests that arrived are answered though the asker has said its last word", async () => {
    await serve({ answer: () => new Promise((resolve) => setImmediate(() => resolve(done("late")))) });
    const { send, socket, closed } = await client();
    send({ verb: "end", request_id: randomUUID(), station: "row" });
    socket.end();
    expect(await closed).toMatchObject([{ result: "late" }]);
  });

  test("an answer that cannot be written costs its connection, and no more", async () => {
    const gym = await serve({ answer: async () => done(10n) });
    const { send, closed } = await client();
    send({ verb: "end", request_id: randomUUID(), station: "row" });
    expect(await closed).toEqual([]);
    expect(gym.logged).toMatchObject([{ message: "a connection to a control socket failed" }]);
    const next = await client();
    next.send({ verb: "status", request_id: randomUUID() });
    expect((await next.lines(1))[0]?.ok).toBe(true);
  });

  test("thirty-two may be under way, the next is busy", async () => {
    await serve({ answer: () => new Promise(() => {}) });
    const { send, lines } = await client();
    for (let i = 0; i < 33; i++) send({ verb: "end", request_id: randomUUID(), station: "row" });
    expect(await lines(1)).toMatchObject([{ ok: false, error: { code: "busy" } }]);
  });
});

describe("what is no request", () => {
  test.each<[string, string | object, string]>([
    ["no JSON", "begin row\n", "The line is not JSON in UTF-8."],
    ["a list", "[1]\n", "The line is not a JSON object."],
    ["null", "null\n", "The line is not a JSON object."],
    ["no request_id", { verb: "status" }, "The request_id is missing."],
    ["a request_id that is no UUID", { verb: "status", request_id: "7" }, "The request_id must be a UUID."],
    ["a depth that nobody means", `${"[".repeat(60_000)}\n`, "The line nests deeper than any request."],
  ])("%s: said, and the connection goes on", async (_, line, message) => {
    await serve();
    const { send, lines } = await client();
    send(line, { verb: "status", request_id: randomUUID() });
    const [first, second] = await lines(2);
    expect(first).toMatchObject({ request_id: null, ok: false, error: { code: "bad-request", message } });
    expect(second?.ok).toBe(true);
  });

  test("bytes that are not UTF-8", async () => {
    await serve();
    const { socket, lines } = await client();
    socket.write(Buffer.from([0x22, 0xff, 0xfe, 0x22, 0x0a]));
    expect((await lines(1))[0]?.error?.message).toBe("The line is not JSON in UTF-8.");
  });

  test("what every object has is no field of a request", async () => {
    await serve();
    const { send, lines } = await client();
    send(`{"verb":"status","request_id":"${randomUUID()}","__proto__":{"station":"row"}}\n`);
    expect((await lines(1))[0]?.error?.message).toBe("status: __proto__ is not a known key.");
  });

  test("a line of 64 KiB is read, one more byte ends the connection", async () => {
    await serve();
    const frame = JSON.stringify({ verb: "status", request_id: randomUUID(), station: "" });
    const fitting = frame.replace('""', `"${"x".repeat(65_536 - frame.length)}"`);
    const good = await client();
    good.send(`${fitting}\n`);
    expect((await good.lines(1))[0]?.error?.message).toMatch(/^status: station must be 1 to 40/);
    const bad = await client();
    bad.send(`${fitting} \n`, { verb: "status", request_id: randomUUID() });
    expect(await bad.closed).toMatchObject([
      { request_id: null, error: { code: "bad-request", message: "The line is over 65536 bytes." } },
    ]);
  });

  test("a line without end holds nothing but its cap", async () => {
    await serve();
    const { send, closed } = await client();
    send("x".repeat(200_000));
    expect(await closed).toMatchObject([{ error: { code: "bad-request" } }]);
  });

  test("whatever bytes come, the next asker is served", async () => {
    const gym = await serve();
    const bytes = fc.uint8Array({ maxLength: 300 });
    const piece = fc.oneof(
      bytes.map((values) => Buffer.from(values)),
      fc.json().map((text) => Buffer.from(`${text}\n`)),
      fc
        .record({
          verb: fc.constantFrom("begin", "set", "watch", "sets"),
          request_id: fc.uuid(),
          station: fc.jsonValue(),
        })
        .map((value) => Buffer.from(`${JSON.stringify(value)}\n`)),
    );
    await fc.assert(
      fc.asyncProperty(fc.array(piece, { maxLength: 8 }), fc.boolean(), async (pieces, rude) => {
        const stranger = await client();
        for (const part of pieces) stranger.socket.write(part);
        if (rude) stranger.socket.destroy();
        else stranger.socket.end();
        await stranger.closed;
        const { send, lines, socket } = await client();
        send({ verb: "status", request_id: randomUUID() });
        expect((await lines(1))[0]).toMatchObject({ ok: true, result: { of: "all" } });
        socket.end();
      }),
      { numRuns: 60 },
    );
    expect(gym.logged).toEqual([]);
    expect(gym.watchers()).toBe(0);
  });
});

describe("sixteen connections", () => {
  test("the seventeenth hears why and is closed; a place that is left is free again", async () => {
    await serve();
    const inside: RawClient[] = [];
    for (let i = 0; i < 16; i++) inside.push(await client());
    const outside = await client();
    // It may speak before it has read that it is not wanted.
    outside.send({ verb: "status", request_id: randomUUID() });
    expect(await outside.closed).toMatchObject([{ request_id: null, ok: false, error: { code: "busy" } }]);
    // The other socket has places of its own.
    const technician = await client(paths().service_socket);
    technician.send({ verb: "status", request_id: randomUUID() });
    expect((await technician.lines(1))[0]?.ok).toBe(true);

    inside[0]!.socket.end();
    await inside[0]!.closed;
    const next = await client();
    next.send({ verb: "status", request_id: randomUUID() });
    expect((await next.lines(1))[0]?.ok).toBe(true);
  });
});

describe("watch", () => {
  const watching = async (gym: FakeGym): Promise<RawClient & { id: string }> => {
    const made = await client();
    const id = randomUUID();
    made.send({ verb: "watch", request_id: id }, { verb: "status", request_id: randomUUID() });
    await made.lines(1);
    expect(gym.watchers()).toBe(1);
    return { ...made, id };
  };

  test("streams events under its request_id until the client goes", async () => {
    const gym = await serve();
    const { lines, socket, closed, id } = await watching(gym);
    gym.happen({ station: "row", topic: "state", message: { phase: "armed" } });
    const event = { station: "row", topic: "state", message: { phase: "armed" } };
    expect((await lines(2))[1]).toEqual({ request_id: id, event });
    socket.end();
    await closed;
    expect(gym.watchers()).toBe(0);
  });

  test("a client that dies is noticed", async () => {
    const gym = await serve();
    const { socket } = await watching(gym);
    socket.destroy();
    const next = await client();
    next.send({ verb: "status", request_id: randomUUID() });
    await next.lines(1);
    expect(gym.watchers()).toBe(0);
  });

  test("many on one connection", async () => {
    const gym = await serve();
    const warnings: Error[] = [];
    const warned = (warning: Error): number => warnings.push(warning);
    process.on("warning", warned);
    const { send, lines } = await client();
    for (let i = 0; i < 20; i++) send({ verb: "watch", request_id: randomUUID(), station: "row" });
    send({ verb: "status", request_id: randomUUID() });
    await lines(1);
    gym.happen({ station: "row", topic: "live", message: { n: 1 } });
    expect((await lines(21)).length).toBe(21);
    process.off("warning", warned);
    expect(warnings).toEqual([]);
  });

  test("a slow reader misses stale live values, and no set", async () => {
    const gym = await serve();
    const { socket, lines } = await watching(gym);
    socket.pause();
    const padding = "x".repeat(1000);
    const LIVE = 3000;
    for (let n = 1; n <= LIVE; n++) {
      gym.happen({ station: "row", topic: "live", message: { n, padding } });
      if (n % 1000 === 0) gym.happen({ station: "row", topic: "set", message: { n } });
      // The kernel's buffer is filled in turns of the loop, as it would be.
      if (n % 50 === 0) await new Promise(setImmediate);
    }
    socket.resume();
    const heard = await untilHeard(lines, LIVE);
    const sets = heard.filter(({ event }) => event?.topic === "set").map(({ event }) => event?.message.n);
    const live = heard.filter(({ event }) => event?.topic === "live").map(({ event }) => event?.message.n);
    expect(sets).toEqual([1000, 2000, 3000]);
    expect(live.at(-1)).toBe(LIVE);
    expect(live.length).toBeLessThan(LIVE);
    expect(live).toEqual([...live].sort((a, b) => Number(a) - Number(b)));
  });

  test("one that reads nothing at all is let go before it costs memory", async () => {
    const gym = await serve();
    const { socket, closed } = await watching(gym);
    socket.pause();
    const message = { padding: "x".repeat(10_000) };
    for (let n = 0; n < 400; n++) gym.happen({ station: "row", topic: "set", message });
    socket.resume();
    await closed;
    expect(gym.watchers()).toBe(0);
    expect(gym.logged.map(({ message: said }) => said)).toContain("a watcher that did not read was disconnected");
  });

  test("a recorder that stops ends it with an answer", async () => {
    const gym = await serve();
    const { closed, id } = await watching(gym);
    await opened.pop()!.close();
    expect((await closed).at(-1)).toEqual({ request_id: id, ok: true, result: {} });
  });
});

/** All lines, once the live value of that number is among them. */
async function untilHeard(lines: RawClient["lines"], n: number): Promise<readonly Line[]> {
  for (let count = 1; ; count++) {
    const heard = await lines(count);
    if (heard.some(({ event }) => event?.topic === "live" && event.message.n === n)) return heard;
    count = heard.length;
  }
}

describe("the files", () => {
  test("are for owner and group, in a directory made for them, and gone afterwards", async () => {
    await serve();
    const { socket, service_socket } = paths();
    expect([modeOf(join(directory, "run")), modeOf(socket), modeOf(service_socket)]).toEqual(["750", "660", "660"]);
    await opened.pop()!.close();
    expect([existsSync(socket), existsSync(service_socket)]).toEqual([false, false]);
  });

  test("a directory that is there keeps its mode", async () => {
    mkdirSync(join(directory, "run"), { mode: 0o700 });
    await serve();
    expect(modeOf(join(directory, "run"))).toBe("700");
  });

  test("what a dead recorder left is replaced", async () => {
    const { socket } = paths();
    mkdirSync(join(directory, "run"));
    // Bound in another process that is killed: the file stays, and nobody listens.
    const { spawnSync } = await import("node:child_process");
    const script = `require("node:net").createServer().listen(${JSON.stringify(socket)}, () => process.kill(process.pid, "SIGKILL"))`;
    spawnSync(process.execPath, ["-e", script]);
    expect(existsSync(socket)).toBe(true);
    await serve();
    const { send, lines } = await client();
    send({ verb: "status", request_id: randomUUID() });
    expect((await lines(1))[0]?.ok).toBe(true);
  });

  test("one that answers is left alone", async () => {
    await serve();
    expect(await refusalOf(paths())).toBe(
      `tidemark is running here already (${paths().socket} answers): stop it first, or choose another path`,
    );
    const { send, lines } = await client();
    send({ verb: "status", request_id: randomUUID() });
    expect((await lines(1))[0]?.ok).toBe(true);
  });

  test("a file that is no socket is left alone", async () => {
    const { socket } = paths();
    mkdirSync(join(directory, "run"));
    writeFileSync(socket, "precious");
    expect(await refusalOf(paths())).toBe(
      `${socket} is there and is not a socket: move it away, or choose another path`,
    );
    expect(statSync(socket).size).toBe(8);
  });

  test("when the second cannot be had, the first is given back", async () => {
    const { socket, service_socket } = paths();
    mkdirSync(join(directory, "run"));
    writeFileSync(service_socket, "precious");
    expect(await refusalOf(paths())).toContain("is not a socket");
    expect(existsSync(socket)).toBe(false);
    const other = createServer().listen(socket);
    await new Promise((resolve) => other.once("listening", resolve));
    await new Promise((resolve) => other.close(resolve));
  });

  test("a path over 100 bytes, counted in bytes", async () => {
    const base = join(directory, "run");
    const fill = 100 - Buffer.byteLength(base) - 1;
    const fitting = join(base, "x".repeat(fill));
    const long = join(base, `${"x".repeat(fill - 1)}é`);
    expect(await refusalOf({ ...paths(), socket: long })).toBe(
      `the socket path ${long} is over 100 bytes, more than a Unix socket's name may have: choose a shorter one`,
    );
    expect(await refusalOf({ ...paths(), socket: fitting })).toBe("opened");
  });

  test("a place where nothing can be made", async () => {
    writeFileSync(join(directory, "run"), "a file, not a directory");
    expect(await refusalOf(paths())).toMatch(
      /^the socket .* cannot be made \((EEXIST|ENOTDIR)\): let this user write in /,
    );
  });
});
