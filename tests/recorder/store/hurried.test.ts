/** A store that is told to hurry: what was answered is safe, what was not begun is refused, and the file is free at once. */
import { once } from "node:events";
import { MessageChannel } from "node:worker_threads";
import { expect, test } from "vitest";
import { noHurry, type StoreAnswer, type StoreRequest, serve } from "../../../recorder/store/serve.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { inventedSet, toKeep } from "./invented.ts";
import { storePath } from "./store-path.ts";

test("hurried, it begins nothing more and closes; what it kept before is there, and nobody holds the file", async () => {
  const path = storePath();
  const { port1: ours, port2: theirs } = new MessageChannel();
  const hurry = noHurry();
  const answers: StoreAnswer[] = [];
  const ended = once(ours, "close");
  ours.on("message", (answer: StoreAnswer) => {
    answers.push(answer);
    if (answer.is === "done" && answer.id === 1) {
      Atomics.store(hurry, 0, 1);
      for (const request of [keep(2), { id: 3, method: "close", args: [] }]) ours.postMessage(request);
    }
  });
  const keep = (id: number): StoreRequest => ({ id, method: "keep", args: [toKeep(inventedSet(id))] });
  await serve(theirs, async () => openTables(path), hurry);
  ours.postMessage(keep(1));
  await ended;
  expect(answers.slice(2)).toEqual([
    { is: "failed", id: 2, failure: { code: "closed", message: "the store closes and begins nothing more" } },
    { is: "done", id: 3, value: undefined },
  ]);
  const again = openTables(path);
  expect(again.methods.sets({}).sets.map(({ set_id }) => set_id)).toEqual([inventedSet(1).set_id]);
  again.methods.close();
});
