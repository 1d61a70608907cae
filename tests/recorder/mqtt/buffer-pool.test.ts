import { Writable } from "node:stream";
import { setFlagsFromString } from "node:v8";
import { runInNewContext } from "node:vm";
import { writeToStream } from "mqtt-packet";
import { expect, test } from "vitest";
import { shrinkBufferPool } from "../../../recorder/mqtt/buffer-pool.ts";

setFlagsFromString("--expose-gc");
const collect = runInNewContext("gc") as () => void;

test("packets of every length a day can bring leave little behind", { timeout: 60_000 }, async () => {
  shrinkBufferPool();
  const sink = new Writable({ write: (_chunk, _encoding, done) => done(), writev: (_chunks, done) => done() });
  const payload = Buffer.alloc(16_384);
  collect();
  const before = process.memoryUsage().arrayBuffers;
  for (let length = 0; length < payload.length - 16; length += 1) {
    const cut = payload.subarray(0, length);
    writeToStream({ cmd: "publish", topic: "a/b", payload: cut, qos: 0, retain: false, dup: false }, sink as never);
    // What else a program makes small buffers of between two packets.
    for (let other = 0; other < 40; other += 1) Buffer.from("a line of the serial port, about so long");
    if (length % 64 === 0) await new Promise(setImmediate);
  }
  await new Promise(setImmediate);
  collect();
  // 135 MB with pools of the usual size. Some of what is left here is only not collected yet.
  expect(process.memoryUsage().arrayBuffers - before).toBeLessThan(40e6);
});
