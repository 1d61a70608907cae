import { afterAll, beforeAll, expect, test } from "vitest";
import { runCli } from "../../../recorder/cli/cli.ts";
import { cli, fakeTerminal } from "./fake-terminal.ts";
import { type Running, running } from "./running.ts";

let recorder: Running;
beforeAll(async () => {
  recorder = await running();
});
afterAll(() => recorder.stop());

/** At a terminal, where somebody types this. */
async function answered(line: string): Promise<{ exit: number; said: string; complained: string }> {
  const terminal = fakeTerminal(80);
  Object.assign(terminal.typed, { isTTY: true });
  terminal.typed.end(line);
  const exit = await runCli(["erase", "T-07", "--socket", recorder.service_socket], terminal);
  return { exit, said: terminal.said.join("\n"), complained: terminal.complained.join("\n") };
}

test("a script has to say that it means it", async () => {
  const { exit, error } = await cli("erase", "T-07", "--socket", recorder.service_socket);
  expect(exit).toBe(2);
  expect(error).toContain("--yes");
});

test("at a terminal the code is asked for again, and another one erases nothing", async () => {
  for (const line of ["T-7\n", "T-070\n", "yes\n", ""]) {
    const { exit, said, complained } = await answered(line);
    expect([line, exit, said]).toEqual([line, 1, ""]);
    expect(complained).toContain("nothing was erased");
  }
});

test("the same code again carries it out, under the trainee's whole code", async () => {
  const { said, complained } = await answered("T-07\n");
  expect(recorder.gym.cared.at(-1)).toMatchObject({ verb: "erase", args: { trainee: "T-07" } });
  expect(said + complained).not.toContain("nothing was erased");
});
