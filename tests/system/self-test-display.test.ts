/** The self-test looks at a real broker with the display's own rights, which nobody but the broker's list knows. */
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { stringify } from "smol-toml";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { Finding } from "../../calibration/self-test/finding.ts";
import { realTime } from "../../recorder/simulated-gym/pace.ts";
import { cli } from "../recorder/cli/fake-terminal.ts";
import { configurationIn, startGym, stopAll } from "../recorder/run/gym-service.ts";
import { Mosquitto } from "./mosquitto.ts";

const USERS = {
  recorder: "the word of the box",
  display: "the word of the wall",
  /** A display that somebody forgot to let at the live values. */
  half: "the word of the half",
  stranger: "the word of nobody",
};
const ACL = `user recorder
topic readwrite tidemark/#

user display
topic read tidemark/#

user half
topic read tidemark/+/station/+/state
topic read tidemark/+/station/+/sensor
topic read tidemark/+/recorder/+/presence
`;

const folder = mkdtempSync(join(tmpdir(), "tidemark-self-test-"));
const broker = new Mosquitto();
const config = join(folder, "tidemark.toml");
const secretOf = (user: keyof typeof USERS): string => {
  const path = join(folder, `${user}.password`);
  writeFileSync(path, USERS[user], { mode: 0o600 });
  return path;
};

beforeAll(async () => {
  await broker.start({ users: USERS, acl: ACL });
  const url = `mqtt://127.0.0.1:${broker.port}`;
  const configuration = {
    ...configurationIn(folder),
    broker: { url, username: "recorder", password_file: secretOf("recorder"), root: "tidemark" },
  };
  writeFileSync(config, stringify(JSON.parse(JSON.stringify(configuration))));
  const { next } = await startGym(configuration, true, realTime());
  await next(({ topic, message }) => topic === "sensor" && (message as { ready: boolean }).ready);
});
afterAll(async () => {
  await stopAll();
  await broker.remove();
  rmSync(folder, { recursive: true, force: true });
});

/** What is not good at the broker, and the whole of it, for one user. */
async function look(...words: readonly string[]): Promise<{ worse: string[][]; all: readonly Finding[] }> {
  const { out, error } = await cli("self-test", "leg-press", "--seconds", "2", "--json", ...words, "--config", config);
  for (const secret of Object.values(USERS)) expect(`${out}${error}`).not.toContain(secret);
  const { broker: all } = JSON.parse(out) as { broker: readonly Finding[] };
  return { all, worse: all.filter(({ level }) => level !== "good").map(({ level, check }) => [level, check]) };
}
const as = (user: "display" | "half" | "stranger"): string[] => [
  "--display-username",
  user,
  "--display-password-file",
  secretOf(user),
];

test("a display that may read all of it sees state, sensor, presence and live values", async () => {
  const { all } = await look(...as("display"));
  expect(all.map(({ check }) => check).slice(0, 3)).toEqual(["connect", "retained", "presence"]);
  expect(all.filter(({ level }) => level === "fault")).toEqual([]);
  expect(all.at(-1)?.values["rate_Hz"]).toBeGreaterThan(5);
});

test("without the display's user it is said whose eyes these were", async () => {
  const { worse } = await look();
  expect(worse[0]).toEqual(["notice", "user"]);
});

test("a wrong password is a fault, with the flags to correct", async () => {
  const { all } = await look("--display-username", "display", "--display-password-file", secretOf("stranger"));
  expect(all).toMatchObject([
    { check: "connect", level: "fault", do: expect.stringContaining("--display-password-file") },
  ]);
});

test("a user who may read nothing is let in, and sees nothing: all of it is missing", async () => {
  const { all } = await look(...as("stranger"));
  expect(all.find(({ check }) => check === "connect")?.level).toBe("good");
  expect(all.filter(({ level }) => level === "fault").length).toBeGreaterThan(0);
  expect(all.some(({ what }) => what.startsWith("The recorder is said to be there"))).toBe(false);
});

test("a display that may not read live values lacks only those", async () => {
  const { all } = await look(...as("half"));
  const faults = all.filter(({ level }) => level === "fault");
  expect(faults).toHaveLength(1);
  expect(faults[0]?.what).toMatch(/live/);
});
