/** The log as whoever reads it gets it. */
import { spawn, spawnSync } from "node:child_process";
import { once } from "node:events";
import { closeSync, mkdtempSync, openSync, readFileSync, renameSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { pino } from "pino";
import { afterAll, beforeAll, describe, expect, onTestFinished, test, vi } from "vitest";
import { inRoom, logTo } from "../../../recorder/run/log.ts";
import { isJournal, logLines, type WriteSome, writerTo } from "../../../recorder/run/log-lines.ts";

const nameOf = (level: number) => pino.levels.labels[level] as never;

function heard(level: "debug" | "info" = "info") {
  const text: string[] = [];
  const log = logTo({ write: (line) => void text.push(line) }, level);
  onTestFinished(() => log.end());
  return { log, lines: () => text.map((line) => JSON.parse(line) as Record<string, unknown>) };
}

test("a line is one JSON object with level, time and sentence, and says where it comes from", () => {
  const { log, lines } = heard();
  inRoom(log, "mqtt").warn({ station: "row" }, "Nothing listens there.");
  expect(lines()).toEqual([
    {
      level: "warn",
      time: expect.stringMatching(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$/),
      room: "mqtt",
      station: "row",
      msg: "Nothing listens there.",
    },
  ]);
});

test("of an error what it is, where it arose, and nothing that hangs on it; its stack only for whoever debugs", () => {
  const error = Object.assign(new RangeError("no such date"), { code: "E1", options: { password: "hunter2" } });
  for (const level of ["info", "debug"] as const) {
    const { log, lines } = heard(level);
    log.error({ err: error }, "It failed.");
    const [line] = lines();
    expect(line?.["err"]).toEqual({
      type: "RangeError",
      code: "E1",
      message: "no such date",
      at: expect.stringContaining("log.test.ts"),
      ...(level === "debug" ? { stack: error.stack } : {}),
    });
    expect(JSON.stringify(line)).not.toContain("hunter2");
  }
});

test("what was held back is said by itself when its hour is over, and at the end", () => {
  vi.useFakeTimers();
  onTestFinished(() => void vi.useRealTimers());
  const text: string[] = [];
  const log = logTo({ write: (line) => void text.push((JSON.parse(line) as { msg: string }).msg) }, "info");
  for (let n = 0; n < 6; n++) log.warn({}, "gone");
  vi.advanceTimersByTime(59 * 60_000);
  expect(text).toHaveLength(5);
  vi.advanceTimersByTime(2 * 60_000);
  expect(text.at(-1)).toMatch(/^gone \(the last of 1 more in 6\d minutes\)$/);
  for (let n = 0; n < 7; n++) log.warn({}, "gone");
  log.end();
  expect(text.at(-1)).toBe("gone (the last of 7 more in 1 minutes)");
  expect(vi.getTimerCount()).toBe(0);
});

test("for the journal each line begins with its priority, as sd-daemon(3) lists them", () => {
  let text = "";
  const write: WriteSome = (some) => {
    text += Buffer.from(some).toString();
    return some.length;
  };
  const log = logTo(logLines({ write, prefixed: true, nameOf }), "debug");
  onTestFinished(() => log.end());
  for (const level of ["debug", "info", "warn", "error", "fatal"] as const) log[level]({}, level);
  // SD_CRIT 2, SD_ERR 3, SD_WARNING 4, SD_INFO 6, SD_DEBUG 7.
  const seen = text
    .trimEnd()
    .split("\n")
    .map((line) => [line.slice(0, 3), (JSON.parse(line.slice(3)) as { msg: string }).msg]);
  expect(seen).toEqual([
    ["<7>", "debug"],
    ["<6>", "info"],
    ["<4>", "warn"],
    ["<3>", "error"],
    ["<2>", "fatal"],
  ]);
});

test("the journal is known by device and inode of what we write to, systemd.exec(5)", () => {
  const directory = mkdtempSync(join(tmpdir(), "tidemark-log-"));
  onTestFinished(() => rmSync(directory, { recursive: true }));
  const path = join(directory, "out");
  const fd = openSync(path, "w");
  onTestFinished(() => closeSync(fd));
  const { dev, ino } = statSync(path, { bigint: true });
  expect(isJournal(fd, `${dev}:${ino}`)).toBe(true);
  expect(isJournal(fd, `${dev}:${ino + 1n}`)).toBe(false);
  expect(isJournal(fd, undefined)).toBe(false);
  writerTo(fd)(Buffer.from("kept\n"));
  expect(readFileSync(path, "utf8")).toBe("kept\n");
});

test.each(["EPIPE", "EAGAIN", "ENOSPC"])(
  "a reader that takes nothing (%s) ends nothing, and how much it missed is said",
  (code) => {
    let takes = true;
    let text = "";
    const write: WriteSome = (some) => {
      if (!takes) throw Object.assign(new Error(code), { code });
      text += Buffer.from(some).toString();
      return some.length;
    };
    const lines = logLines({ write, prefixed: false, nameOf });
    lines.write("one\n");
    takes = false;
    for (let n = 0; n < 3; n++) lines.write("lost\n");
    takes = true;
    lines.write("two\n");
    const [one, said, two] = text.trimEnd().split("\n");
    expect([one, two]).toEqual(["one", "two"]);
    expect(JSON.parse(said!)).toMatchObject({ level: "warn", lost: 3 });
  },
);

test("a line that was cut off does not run into the next", () => {
  let room = 2;
  let text = "";
  const write: WriteSome = (some) => {
    if (room === 0) throw Object.assign(new Error("EAGAIN"), { code: "EAGAIN" });
    const part = Buffer.from(some).subarray(0, room);
    room -= part.length;
    text += part.toString();
    return part.length;
  };
  const lines = logLines({ write, prefixed: false, nameOf });
  lines.write("torn\n");
  room = 1000;
  lines.write("whole\n");
  expect(text.split("\n").filter((line) => !line.includes("lost"))).toEqual(["to", "whole", ""]);
});

describe("a reader that is there and does not read", () => {
  // tsx opens both streams itself, so what is tried is the module as it is built.
  const built = mkdtempSync(join(tmpdir(), "tidemark-log-"));
  afterAll(() => rmSync(built, { recursive: true }));
  const root = fileURLToPath(new URL("../../../", import.meta.url));
  beforeAll(() => {
    const tsc = [join(root, "node_modules/typescript/bin/tsc"), join(root, "recorder/run/log-lines.ts")];
    const settings = ["--ignoreConfig", "--noCheck", "--module", "esnext", "--target", "es2023", "--outDir", built];
    const { status } = spawnSync(process.execPath, [...tsc, ...settings]);
    expect(status).toBe(0);
    renameSync(join(built, "log-lines.js"), join(built, "log-lines.mjs"));
  });

  test.each([1, 2])("holds nobody up (descriptor %i)", async (fd) => {
    // Far more than a pipe holds, pipe(7): whoever waited for its reader would never be done.
    const script = `import { logLines, writerTo } from ${JSON.stringify(join(built, "log-lines.mjs"))};
      const to = logLines({ write: writerTo(${fd}), prefixed: false, nameOf: () => "info" });
      for (let n = 0; n < 1000; n++) to.write("x".repeat(1000) + "\\n");`;
    const child = spawn(process.execPath, ["--input-type=module", "--eval", script]);
    onTestFinished(() => void child.kill("SIGKILL"));
    expect(await once(child, "exit")).toEqual([0, null]);
  });
});
