/** Types as statfs(2) lists them: TMPFS_MAGIC, RAMFS_MAGIC, OVERLAYFS_SUPER_MAGIC; EXT4_SUPER_MAGIC, BTRFS_SUPER_MAGIC. */
import { expect, it } from "vitest";
import { volatileBy } from "../../../recorder/run/volatile-disk.ts";

it("memory and overlays are said, disks are not, whatever sign the kernel gives the type", () => {
  expect(volatileBy(0x01021994, "/var/lib/tidemark")).toBe(
    "The store's directory /var/lib/tidemark is in memory (tmpfs): every set is lost when the power goes; put the store on a disk.",
  );
  expect(volatileBy(0x858458f6, "/x")).toMatch(/ramfs/);
  expect(volatileBy(0x858458f6 | 0, "/x")).toMatch(/ramfs/);
  expect(volatileBy(0x794c7630, "/x")).toMatch(/overlay/);
  expect([0xef53, 0x9123683e].map((type) => volatileBy(type, "/x"))).toEqual([null, null]);
});
