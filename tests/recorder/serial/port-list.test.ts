/** The ports of a machine made of files, laid out as the kernel's Documentation/ABI/testing/sysfs-tty and sysfs-bus-usb say. */
import { rmSync, statSync } from "node:fs";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { serialPortsUnder } from "../../../recorder/cli/commands/serial-ports.ts";
import { adviceOn, bestPath } from "../../../recorder/serial/port-advice.ts";
import { deviceOf, listSerialPorts } from "../../../recorder/serial/port-list.ts";
import { fakeTerminal } from "../cli/fake-terminal.ts";
import { type Adapter, FakeMachine } from "./fake-machine.ts";

let machine: FakeMachine;
let root: string;
beforeEach(() => {
  machine = new FakeMachine();
  root = machine.root;
});
afterEach(() => machine.remove());

const file = (path: string, text = ""): string => machine.file(path, text);
const link = (path: string, to: string): void => machine.link(path, to);
const plug = (adapter: Adapter): void => void machine.plug(adapter);
const uart = (node: string, type: string): void => machine.uart(node, type);

const listed = async () => (await listSerialPorts(root)).map(({ device }) => device);

describe("the ports that are listed", () => {
  it("are those of adapters, boards and real UARTs, in the order of their numbers", async () => {
    for (const node of ["ttyUSB10", "ttyUSB9", "ttyACM0"]) plug({ node, at: `1-${node.length}${node.at(-1)}` });
    uart("ttyAMA0", "32");
    // serial_core.h: PORT_UNKNOWN 0, PORT_16550A 4.
    uart("ttyS0", "4");
    uart("ttyS1", "0");
    for (const other of ["tty0", "ttyS", "ttyprintk", "null", "ttyUSB0.bak"]) file(`dev/${other}`);
    expect(await listed()).toEqual(["/dev/ttyACM0", "/dev/ttyAMA0", "/dev/ttyS0", "/dev/ttyUSB9", "/dev/ttyUSB10"]);
  });

  it("leave out one that went away while they were looked for", async () => {
    plug({ node: "ttyUSB0", at: "1-1" });
    // A name whose file is gone, as after an unplugging in between.
    link("dev/ttyUSB1", "dev/gone");
    expect(await listed()).toEqual(["/dev/ttyUSB0"]);
  });

  it("are none where there is nothing at all", async () => {
    expect(await listed()).toEqual([]);
    expect(await listSerialPorts(join(root, "nowhere"))).toEqual([]);
  });
});

describe("what is told of a port", () => {
  it("is what its adapter says, where it is, and who may open it", async () => {
    file("etc/group", `serial:x:${statSync(root).gid}:anna\n`);
    plug({ node: "ttyUSB0", at: "1-1", serial: "A50285BI", by_id: "usb-1a86_USB_Serial_A50285BI-if00-port0" });
    const [port] = await listSerialPorts(root);
    expect(port).toEqual({
      device: "/dev/ttyUSB0",
      by_id: ["/dev/serial/by-id/usb-1a86_USB_Serial_A50285BI-if00-port0"],
      by_path: ["/dev/serial/by-path/platform-usb-0:1-1:1.0-port0"],
      usb: { vendor: "1a86", product: "7523", name: "USB Serial", serial: "A50285BI" },
      driver: "ch341-uart",
      group: "serial",
      mode: "0660",
      may_open: true,
      held_by: null,
      same_name: [],
    });
  });

  it("tells who has it locked, by the lines of /proc/locks", async () => {
    plug({ node: "ttyUSB0", at: "1-1" });
    plug({ node: "ttyUSB1", at: "1-2" });
    const { dev, ino } = statSync(join(root, "dev/ttyUSB1"));
    // As glibc's gnu_dev_major and gnu_dev_minor take a device number apart.
    const big = BigInt(dev);
    const major = ((big >> 8n) & 0xfffn) | ((big >> 32n) & ~0xfffn);
    const minor = (big & 0xffn) | ((big >> 12n) & ~0xffn);
    const at = `${major.toString(16).padStart(2, "0")}:${minor.toString(16).padStart(2, "0")}`;
    file(
      "proc/locks",
      `1: POSIX  ADVISORY  WRITE 811 ${at}:${ino} 0 EOF\n2: FLOCK  ADVISORY  WRITE 812 ${at}:${ino + 7} 0 EOF\n` +
        `3: FLOCK  ADVISORY  WRITE 813 ${at}:${ino} 0 EOF\n`,
    );
    expect((await listSerialPorts(root)).map(({ held_by }) => held_by)).toEqual([null, 813]);
  });

  it("says which adapters would share one name, and sends to by-path", async () => {
    plug({ node: "ttyUSB0", at: "1-1", by_id: "usb-1a86_USB_Serial-if00-port0" });
    plug({ node: "ttyUSB1", at: "1-2" });
    plug({ node: "ttyUSB2", at: "1-3", product: "Another" });
    const ports = await listSerialPorts(root);
    expect(ports.map(({ same_name }) => same_name)).toEqual([["/dev/ttyUSB1"], ["/dev/ttyUSB0"], []]);
    expect(ports.map(bestPath)).toEqual([1, 2, 3].map((at) => `/dev/serial/by-path/platform-usb-0:1-${at}:1.0-port0`));
    expect(adviceOn(ports[1]!, "anna", null)).toEqual([
      "/dev/ttyUSB0 would have the same name under /dev/serial/by-id, which leads to one of them only: use by-path.",
    ]);
  });

  it("does not take the ports of one adapter for two of a name", async () => {
    plug({ node: "ttyUSB0", at: "1-1", interface: "00" });
    plug({ node: "ttyUSB1", at: "1-1", interface: "01" });
    expect((await listSerialPorts(root)).map(({ same_name }) => same_name)).toEqual([[], []]);
  });
});

describe("a path of the configuration", () => {
  it("leads where its link leads now", async () => {
    plug({ node: "ttyUSB0", at: "1-1", by_id: "usb-board" });
    plug({ node: "ttyUSB1", at: "1-2" });
    expect(await deviceOf("/dev/serial/by-id/usb-board", root)).toBe("/dev/ttyUSB0");
    rmSync(join(root, "dev/serial/by-id/usb-board"));
    link("dev/serial/by-id/usb-board", "dev/ttyUSB1");
    expect(await deviceOf("/dev/serial/by-id/usb-board", root)).toBe("/dev/ttyUSB1");
    rmSync(join(root, "dev/ttyUSB1"));
    expect(await deviceOf("/dev/serial/by-id/usb-board", root)).toBeNull();
  });
});

describe("advice", () => {
  const port = {
    device: "/dev/ttyUSB0",
    by_id: ["/dev/serial/by-id/usb-one"],
    by_path: ["/dev/serial/by-path/one"],
    usb: { vendor: "0403", product: "6001", name: null, serial: "A1" },
    driver: null,
    group: "dialout",
    mode: "0660",
    may_open: true,
    held_by: null,
    same_name: [],
  };

  it("is none where all is well", () => {
    expect(bestPath(port)).toBe("/dev/serial/by-id/usb-one");
    expect(adviceOn(port, "anna", "/dev/serial/by-id/usb-one")).toEqual([]);
    expect(adviceOn(port, "anna", "/dev/serial/by-path/one")).toEqual([]);
  });

  it("sends an adapter without a serial number to where it is plugged in", () => {
    const numberless = { ...port, usb: { ...port.usb, serial: null } };
    expect(bestPath(numberless)).toBe("/dev/serial/by-path/one");
    expect(adviceOn(numberless, "anna", null)).toEqual([expect.stringMatching(/no serial number.+use by-path/)]);
  });

  it("minds a name that may be another's tomorrow", () => {
    expect(adviceOn(port, "anna", "/dev/ttyUSB0")).toEqual([
      "the station calls it /dev/ttyUSB0, which may lead to another adapter: call it /dev/serial/by-id/usb-one.",
    ]);
    expect(adviceOn({ ...port, by_id: [], by_path: [] }, "anna", null)).toEqual([
      expect.stringMatching(/no link that stays/),
    ]);
  });

  it("has the command for whoever is not let in", () => {
    expect(adviceOn({ ...port, may_open: false, group: "plugdev" }, "anna", null)).toEqual([
      expect.stringContaining("`sudo usermod -aG plugdev anna`"),
    ]);
  });
});

describe("the command", () => {
  const CONFIGURATION = `
site = "paper-hall"
recorder = "paper-box"
[store]
path = "unused.db"
`;
  const station = (id: string, serial_port: string): string => `
[[station]]
id = "${id}"
exercise = "row"
serial_port = "${serial_port}"
resistance = "driven"
cell_capacity_N = 5000
force_limit_N = 4000
working_force_N = 2500
latitude_deg = 52.0
`;

  async function ran(flags: Record<string, string | boolean>) {
    const terminal = fakeTerminal();
    const exit = await serialPortsUnder(root).run({ operands: [], flags, terminal });
    return { exit, out: terminal.said.join("\n"), error: terminal.complained.join("\n") };
  }

  it("shows each port with what to call it and who uses it, and which station has none", async () => {
    plug({ node: "ttyUSB0", at: "1-1", serial: "A1", by_id: "usb-one" });
    const config = file(
      "tidemark.toml",
      CONFIGURATION + station("row", "/dev/serial/by-id/usb-one") + station("press", "/dev/serial/by-id/usb-gone"),
    );
    file("etc/group", `dialout:x:${statSync(root).gid}:\n`);
    expect(await ran({ config })).toEqual({
      exit: 0,
      out: [
        "/dev/ttyUSB0  USB 1a86:7523, USB Serial, A1, ch341-uart, dialout 0660",
        '  serial_port = "/dev/serial/by-id/usb-one"',
        "  station row",
      ].join("\n"),
      error: "mind: the station press wants /dev/serial/by-id/usb-gone, which is not there",
    });
    const told = JSON.parse((await ran({ config, json: true })).out);
    expect(told).toMatchObject({
      ports: [{ device: "/dev/ttyUSB0", serial_port: "/dev/serial/by-id/usb-one", stations: ["row"], advice: [] }],
      missing: [{ station: "press", serial_port: "/dev/serial/by-id/usb-gone" }],
    });
  });

  it("says that two links lead to one adapter", async () => {
    plug({ node: "ttyUSB0", at: "1-1", serial: "A1", by_id: "usb-one" });
    const config = file(
      "tidemark.toml",
      CONFIGURATION +
        station("row", "/dev/serial/by-id/usb-one") +
        station("press", "/dev/serial/by-path/platform-usb-0:1-1:1.0-port0"),
    );
    expect((await ran({ config })).out).toContain("mind: more than one station uses it: give each its own adapter.");
  });

  it("lists without a configuration, says so where there is nothing, and refuses a bad one", async () => {
    expect(await ran({})).toMatchObject({ exit: 0, out: "there is no serial port here: plug an adapter in" });
    const config = file("bad.toml", "site = 3");
    expect(
      await serialPortsUnder(root).run({ operands: [], flags: { config }, terminal: fakeTerminal() }),
    ).toMatchObject({
      exit: 78,
    });
  });
});
