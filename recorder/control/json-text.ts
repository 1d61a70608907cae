/**
 * An answer as JSON, exactly as JSON.stringify would write it. A long list is written in slices with a turn of the event loop
 * between them: the curve of fifteen minutes takes 25 to 60 ms of processor time [measured], which would be that much
 * later a stop at every station.
 */

/** Entries that are written in one go, about 1 ms of them. */
const SLICE = 2000;

/** `value` is data as it came out of the record or the stations: nothing in it but what JSON can say. */
export async function jsonText(value: unknown): Promise<string> {
  const pieces: string[] = [];
  await write(value, pieces);
  return pieces.join("");
}

async function write(value: unknown, pieces: string[]): Promise<void> {
  if (Array.isArray(value) && value.length > SLICE) await writeList(value, pieces);
  else if (isPlainObject(value)) await writeObject(value, pieces);
  else pieces.push(JSON.stringify(value));
}

async function writeList(list: readonly unknown[], pieces: string[]): Promise<void> {
  for (let at = 0; at < list.length; at += SLICE) {
    pieces.push(at === 0 ? "[" : ",", JSON.stringify(list.slice(at, at + SLICE)).slice(1, -1));
    await new Promise(setImmediate);
  }
  pieces.push("]");
}

async function writeObject(object: object, pieces: string[]): Promise<void> {
  let before = "{";
  for (const [name, value] of Object.entries(object)) {
    if (value === undefined) continue;
    pieces.push(before, JSON.stringify(name), ":");
    await write(value, pieces);
    before = ",";
  }
  pieces.push(before === "{" ? "{}" : "}");
}

const isPlainObject = (value: unknown): value is object =>
  typeof value === "object" && value !== null && Object.getPrototypeOf(value) === Object.prototype;
