/** Names of the groups of this machine. */
import { readFile } from "node:fs/promises";
import { join } from "node:path";

/** The name of a group, else its number. Only /etc/group is looked at: device nodes belong to local groups. */
export async function groupName(gid: number, root = "/"): Promise<string> {
  try {
    const groups = await readFile(join(root, "etc/group"), "utf8");
    const row = groups.split("\n").find((line) => line.split(":")[2] === String(gid));
    return row?.split(":")[0] ?? String(gid);
  } catch {
    return String(gid);
  }
}
