import { setImmediate } from "node:timers/promises";
import { expect, it } from "vitest";
import { timeService } from "../../../recorder/run/time-service.ts";

/** A machine that answers only when it is let. */
function machine() {
  const says = { file: false, answers: [] as ((printed: string | null | Promise<never>) => void)[] };
  const synced = timeService({
    fileThere: () => says.file,
    ask: () => new Promise((resolve) => says.answers.push(resolve)),
  });
  const answer = async (printed: string | null | Promise<never>): Promise<void> => {
    says.answers.at(-1)?.(printed);
    await setImmediate();
  };
  return { says, synced, answer };
}

it("believes the file of systemd-timesyncd, and asks nobody then", () => {
  const { says, synced } = machine();
  says.file = true;
  expect(synced(0)).toBe(true);
  expect(says.answers).toHaveLength(0);
});

it("believes the kernel's word under any other time service, and waits for nobody to give it", async () => {
  const { says, synced, answer } = machine();
  expect(synced(0)).toBe(false);
  expect(synced(500_000)).toBe(false);
  expect(says.answers).toHaveLength(1);
  await answer("yes\n");
  expect(synced(500_001)).toBe(true);
});

it("asks again a minute later while the answer is no, ten minutes later once it is yes, and takes a no back", async () => {
  const { says, synced, answer } = machine();
  synced(0);
  await answer("no\n");
  expect([synced(59_999), says.answers.length]).toEqual([false, 1]);
  synced(60_000);
  await answer("yes\n");
  expect([synced(659_999), says.answers.length]).toEqual([true, 2]);
  synced(660_000);
  await answer("no\n");
  expect([synced(660_001), says.answers.length]).toEqual([false, 3]);
});

it("claims nothing where the answer is a failure, and never asks again where there is nobody to ask", async () => {
  const { says, synced, answer } = machine();
  synced(0);
  await answer("");
  expect(synced(60_000)).toBe(false);
  expect(says.answers).toHaveLength(2);
  // fork(2): there may be no memory for another process.
  await answer(Promise.reject(new Error("spawn ENOMEM")));
  expect(synced(120_000)).toBe(false);
  expect(says.answers).toHaveLength(3);
  await answer(null);
  expect(synced(1e9)).toBe(false);
  expect(says.answers).toHaveLength(3);
});
