import { describe, expect, it } from "vitest";
import {
  garbledTrouble,
  lostTrouble,
  nothingTrouble,
  openTrouble,
  sharedTrouble,
  stalledTrouble,
} from "../../../recorder/serial/trouble.ts";

const facts = { path: "/dev/ttyUSB0", user: "tidemark", node: { group: "dialout", mode: 0o20660 } };
const coded = (code: string) => Object.assign(new Error(`${code}: it is so`), { code });

describe("the trouble with opening a port", () => {
  // The texts are those of serialport 13 on Linux, as seen; the codes are those of the operating system.
  it.each([
    [new Error("Error: No such file or directory, cannot open /dev/ttyUSB0"), "is not there"],
    [coded("ENOENT"), "is not there"],
    [new Error("Error Resource temporarily unavailable Cannot lock port"), "is in use by another program"],
    [coded("EBUSY"), "is in use by another program"],
    [new Error("Error: Inappropriate ioctl for device setting custom baud rate of 115200"), "is not a serial port"],
    [new Error("Error: Is a directory, cannot open /dev"), "is not a serial port"],
    [coded("ENXIO"), "its device is gone"],
    [new Error("Error: No such device or address, cannot open /dev/ttyUSB0"), "its device is gone"],
    [new Error("Error: Something else"), "cannot be opened (Something else)"],
    ["a thing that is no error", "cannot be opened (a thing that is no error)"],
  ])("%s", (error, said) => {
    const sentence = openTrouble(error, facts);
    expect(sentence).toContain(said);
    expect(sentence).toMatch(/^\/dev\/ttyUSB0 [^\n]+\.$/);
  });

  it("without permission names the group of the node and the command", () => {
    const denied = new Error("Error: Permission denied, cannot open /dev/ttyUSB0");
    expect(openTrouble(denied, facts)).toBe(
      "/dev/ttyUSB0 may not be opened by tidemark: it belongs to the group dialout; run `sudo usermod -aG dialout tidemark` and restart the recorder.",
    );
    expect(openTrouble(coded("EACCES"), { ...facts, node: { group: "plugdev", mode: 0o20660 } })).toContain(
      "`sudo usermod -aG plugdev tidemark`",
    );
  });

  it("without permission never sends anybody into a group that would not help, or into root's", () => {
    const closed = openTrouble(coded("EACCES"), { ...facts, node: { group: "dialout", mode: 0o20600 } });
    expect(closed).toContain("group dialout and mode 0600");
    expect(closed).toContain("`sudo chgrp dialout /dev/ttyUSB0 && sudo chmod 0660 /dev/ttyUSB0`");
    expect(openTrouble(coded("EACCES"), { ...facts, node: { group: "root", mode: 0o20660 } })).not.toContain("usermod");
    expect(openTrouble(coded("EACCES"), { ...facts, node: null })).toContain("may not be opened by tidemark");
  });
});

describe("the trouble with two stations on one device", () => {
  it("names both links", () => {
    expect(sharedTrouble("/dev/a", "/dev/b")).toMatch(
      /^\/dev\/a leads to the same device as \/dev\/b, .+; retrying\.$/,
    );
  });
});

describe("the trouble with an open port", () => {
  it("is one sentence each", () => {
    expect(lostTrouble("/dev/a", new Error("EIO: i/o error, read"))).toBe(
      "/dev/a went away (EIO: i/o error, read): check the plug; retrying.",
    );
    expect(lostTrouble("/dev/a", null)).toContain("closed at the far end");
    expect(stalledTrouble("/dev/a", 1034)).toContain("fell silent for 1.0 s");
    expect(nothingTrouble("/dev/a")).toMatch(/DTR/);
    expect(nothingTrouble("/dev/a")).toMatch(/115200 baud, the cable/);
    expect(garbledTrouble("/dev/a")).toContain("wrong baud rate?");
  });
});
