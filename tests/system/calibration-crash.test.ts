/**
 * kill -9 of the recorder at every step of a calibration, and of whoever calibrates: the record that was in force is in
 * force after the restart, whole, and the station measures. Only an accept that had arrived may have brought the new one.
 */
import { execFile } from "node:child_process";
import { readdirSync } from "node:fs";
import { join } from "node:path";
import { afterAll, afterEach, beforeAll, expect, test } from "vitest";
import { type CalibrationRecord, calibrationRecordSchema } from "../../calibration/record.ts";
import { STATION, Technician } from "./technician.ts";

/** Seconds of the board in one of ours: the 23 s of a capture are over in about a second. */
const SPEED = 25;
/** 40 kg at 52 degrees and sea level: WGS84 normal gravity, less the air's buoyancy. */
const LOAD_N = 40 * 9.81247 * (1 - 1.5e-4);
const LOAD = { mass_kg: 40, relative_tolerance: 0.001 } as const;

const technician = new Technician(SPEED);
const { recorder } = technician;
let in_force: string;

beforeAll(async () => {
  await technician.arrive();
  in_force = (await records()).in_force;
});
afterAll(() => technician.leave());
// One that failed is not to take the rest with it.
afterEach(() => technician.ask("calibration-abandon"));

/** The record in force, and all that are kept, each of them whole. */
async function records(): Promise<{ in_force: string; kept: CalibrationRecord[] }> {
  const result = await technician.done("calibrations");
  const kept = (result["calibrations"] as unknown[]).map((record) => calibrationRecordSchema.parse(record));
  return { in_force: result["in_force"] as string, kept };
}

/** Where the line was behind and lost readings, the station says so until the next one. */
async function begin(): Promise<void> {
  const reply = await technician.ask("calibration-begin", { performed_by: "tech-1" });
  if (reply.ok) return;
  if (reply.failure.refusal?.code !== "sensor-fault") throw new Error(reply.failure.message);
  await technician.force();
  return begin();
}
const zero = () => technician.done("calibration-zero");
const load = async (loading = "increasing") => {
  if (loading === "decreasing") await technician.hang(1.5 * LOAD_N);
  await technician.hang(LOAD_N);
  return technician.done("calibration-load", { ...LOAD, loading });
};
/** Half of the load: no scale is accepted that was not looked at with another one. */
const check = async () => {
  await technician.hang(LOAD_N / 2);
  return technician.done("calibration-check", { ...LOAD, mass_kg: 20, loading: "increasing" });
};
const unload = () => technician.hang(0);
/** A request that is under way when the recorder dies. */
const underWay =
  (verb: Parameters<Technician["ask"]>[0], args: object = {}) =>
  async (): Promise<void> => {
    void technician.ask(verb, args);
    // In the middle of its dwell, or of its window.
    await new Promise((resolve) => setTimeout(resolve, 150 + 350 * (verb === "calibration-load" ? 1 : 0)));
  };

async function killed(): Promise<void> {
  await recorder.stop("SIGKILL");
  technician.put(0);
  technician.restartBoard();
  await recorder.start();
  // It measures, by a record.
  await technician.force((force_N) => Math.abs(force_N) < 5);
}

/** Nothing is left open: somebody else can begin at once, and leave again. */
async function isFree(): Promise<void> {
  await begin();
  expect(await technician.done("calibration-abandon")).toEqual({ abandoned: true });
}

const STEPS: readonly (readonly [string, ...(() => Promise<unknown>)[]])[] = [
  ["after the beginning", begin],
  ["while a load is checked as found", begin, underWay("calibration-check", { ...LOAD, loading: "increasing" })],
  ["after a load was checked as found", begin, check],
  ["while the unloaded point is taken", begin, underWay("calibration-zero")],
  ["after the unloaded point", begin, check, unload, zero],
  ["while the load point is taken", begin, zero, underWay("calibration-load", LOAD)],
  ["after the load point", begin, zero, load],
  ["after the load from above as well", begin, zero, load, () => load("decreasing")],
  ["after a load was checked as left", begin, zero, load, check],
];

test.each(STEPS)("killed %s, the old record is in force", async (_, ...steps) => {
  for (const step of steps as readonly (() => Promise<unknown>)[]) await step();
  await killed();
  const now = await records();
  expect(now.in_force).toBe(in_force);
  expect(now.kept).toHaveLength(1);
  await isFree();
});

test("killed a moment after accept was sent, either record is in force and nothing is broken", {
  timeout: 180_000,
}, async () => {
  let made = 0;
  for (const after_ms of [0, 1, 2, 4, 8, 16]) {
    const before = await records();
    await begin();
    await unload();
    await zero();
    await load();
    await check();
    let answered: string | null = null;
    const sent = technician.ask("calibration-accept", { note: `after ${after_ms} ms` }).then((reply) => {
      if (reply.ok) answered = (reply.result as CalibrationRecord).calibration_id;
    });
    await new Promise((resolve) => setTimeout(resolve, after_ms));
    await killed();
    await sent;
    const after = await records();
    const added = after.kept.length - before.kept.length;
    made += added;
    expect(added === 0 || added === 1).toBe(true);
    // An answer is a promise; without one either may be, but the one in force is always the newest that is kept.
    if (answered !== null) expect(after.in_force).toBe(answered);
    if (added === 0) expect(after.in_force).toBe(before.in_force);
    else expect(before.kept.map(({ calibration_id }) => calibration_id)).not.toContain(after.in_force);
    expect(after.kept.map(({ calibration_id }) => calibration_id)).toContain(after.in_force);
    await isFree();
  }
  console.log(`6 accepts cut short: ${made} records kept`);
});

test("accepted and answered, the new record survives the death, and its copy lies beside the database", async () => {
  await begin();
  await zero();
  await load();
  await load("decreasing");
  await check();
  await unload();
  await technician.done("calibration-check", { force_N: 0, loading: "decreasing" });
  const accepted = calibrationRecordSchema.parse(await technician.done("calibration-accept", { note: "kept" }));
  await killed();
  const now = await records();
  expect(now.in_force).toBe(accepted.calibration_id);
  expect(now.kept).toContainEqual(accepted);
  const files = readdirSync(technician.folder, { recursive: true }) as string[];
  expect(files.filter((name) => name.includes(accepted.calibration_id))).toHaveLength(1);
  in_force = accepted.calibration_id;
});

test("the technician's own command dies in the middle of a capture: the recorder goes on, the record stays", async () => {
  await begin();
  const words = ["calibrate", STATION, "--step", "zero", "--config", technician.configuration];
  const child = execFile(process.execPath, [
    process.env["TIDEMARK_MAIN"] ?? join("dist", "recorder", "main.js"),
    ...words,
  ]);
  await new Promise((resolve) => setTimeout(resolve, 400));
  child.kill("SIGKILL");
  expect((await records()).in_force).toBe(in_force);
  // The procedure is still theirs: they go on, or leave.
  expect(await technician.ask("begin", { trainee: "wren-21" })).toMatchObject({ ok: false });
  expect(await technician.done("calibration-abandon")).toEqual({ abandoned: true });
  await isFree();
});
