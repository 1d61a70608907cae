/** Makes room for a Unix socket: its directory is there, and what a dead process left is not. */
import { chmod, lstat, mkdir, unlink } from "node:fs/promises";
import { connect } from "node:net";
import { dirname } from "node:path";
import { SOCKET_PATH_BYTES } from "../configuration/schema.ts";

/** null: the path is free to listen on. Otherwise one sentence saying why not, and what would do. */
export async function makeRoom(path: string): Promise<string | null> {
  if (Buffer.byteLength(path) > SOCKET_PATH_BYTES) {
    return `the socket path ${path} is over ${SOCKET_PATH_BYTES} bytes, more than a Unix socket's name may have: choose a shorter one`;
  }
  try {
    await makeDirectory(dirname(path));
    return await removeLeftover(path);
  } catch (error) {
    return `the socket ${path} cannot be made (${sayCode(error)}): let this user write in ${dirname(path)}, or choose another path`;
  }
}

export const sayCode = (error: unknown): string => (error as NodeJS.ErrnoException).code ?? String(error);

async function makeDirectory(directory: string): Promise<void> {
  const made = await mkdir(directory, { recursive: true });
  // mkdir's mode passes through the umask. A directory that was there keeps the mode its owner gave it.
  if (made !== undefined) await chmod(directory, 0o750);
}

async function removeLeftover(path: string): Promise<string | null> {
  const there = await lstat(path).catch((error: NodeJS.ErrnoException) => {
    if (error.code === "ENOENT") return null;
    throw error;
  });
  if (there === null) return null;
  // Connecting to a plain file is refused as well, so a refusal alone does not make it ours to remove.
  if (!there.isSocket()) return `${path} is there and is not a socket: move it away, or choose another path`;
  const listener = await knock(path);
  if (listener === "ECONNREFUSED") await unlink(path);
  else if (listener !== "ENOENT") {
    return `tidemark is running here already (${path} answers): stop it first, or choose another path`;
  }
  return null;
}

/** null: somebody listens; otherwise why the connection failed. */
function knock(path: string): Promise<string | null> {
  return new Promise((resolve) => {
    const socket = connect(path);
    socket.once("connect", () => {
      socket.destroy();
      resolve(null);
    });
    socket.once("error", (error) => resolve(sayCode(error)));
  });
}
