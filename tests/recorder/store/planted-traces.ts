/** Copies of codes where SQLite leaves them when it moves cells: in the unused middle of pages that stay in use. */
import { readFileSync, writeFileSync } from "node:fs";
import { unallocated } from "../../../recorder/store/erase-traces.ts";

/** Into the file of a store that nobody has open. Returns in how many pages; throws where no page has room. */
export function plantTraces(path: string, ...codes: readonly string[]): number {
  const bytes = readFileSync(path);
  // SQLite, "Database File Format", section 1.3.2 [memory]: the page size, big-endian, at byte 16.
  const page_bytes = bytes.readUInt16BE(16);
  const trace = Buffer.from(JSON.stringify(codes));
  let planted = 0;
  for (let number = 1; number * page_bytes <= bytes.length; number++) {
    const from = (number - 1) * page_bytes;
    const gap = unallocated(bytes.subarray(from, from + page_bytes), number);
    if (gap === null || gap.end - gap.start < 3 * trace.length) continue;
    trace.copy(bytes, from + Math.floor((gap.start + gap.end) / 2));
    planted += 1;
  }
  if (planted === 0) throw new Error("no page has room for a trace");
  writeFileSync(path, bytes);
  return planted;
}
