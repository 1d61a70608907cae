/** What is told to the log of a broker that is away, comes, refuses and takes: what is wrong, and what no longer is. */
import { expect, test } from "vitest";
import { BusStanding } from "../../../recorder/mqtt/bus-status.ts";

test("what is wrong and what is well are told apart, each once", () => {
  const said: string[] = [];
  const standing = new BusStanding("hall:1883", {
    onStatus: () => {},
    log: (line, about) => said.push(`${about ?? "wrong"}: ${line}`),
  });
  const refused = { code: null, error: { code: "ECONNREFUSED", message: "" }, was_up: false };
  for (let tries = 0; tries < 3; tries += 1) standing.down(refused, { at_ms: 0, clock_synced: true });
  standing.up();
  for (let times = 0; times < 3; times += 1) standing.answered("a/state", { ok: false, code: 0x87 });
  standing.answered("a/state", { ok: true });
  standing.down({ code: null, error: null, was_up: true }, { at_ms: 0, clock_synced: true });
  standing.up();
  expect(said).toEqual([
    "wrong: Nothing listens at hall:1883: start the broker or correct broker.url.",
    "well: Connected to the broker at hall:1883.",
    "wrong: The broker does not let us publish a/state: allow it there for the recorder's user.",
    "well: All is well again at hall:1883.",
    "wrong: The connection to the broker at hall:1883 was lost: trying again.",
    "well: Connected to the broker at hall:1883.",
  ]);
});
