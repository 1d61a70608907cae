/** What a self-test says of a port, from the files of a made-up machine, sentence by sentence. */
import { chmodSync, statSync } from "node:fs";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import type { Finding } from "../../../calibration/self-test/finding.ts";
import { portFindings } from "../../../recorder/cli/self-test/port-findings.ts";
import { surroundingsOf } from "../../../recorder/serial/port-surroundings.ts";
import { FakeMachine } from "../serial/fake-machine.ts";

let machine: FakeMachine;
beforeEach(() => {
  machine = new FakeMachine();
  machine.file("etc/group", `dialout:x:${statSync(machine.root).gid}:anna\n`);
});
afterEach(() => machine.remove());

const ADAPTER = { node: "ttyUSB0", at: "1-1", serial: "A1", by_id: "usb-adapter-A1" } as const;
const BY_ID = "/dev/serial/by-id/usb-adapter-A1";
const BY_PATH = "/dev/serial/by-path/platform-usb-0:1-1:1.0-port0";

const findingsOn = async (path: string): Promise<readonly Finding[]> =>
  portFindings(await surroundingsOf(path, machine.root), "anna");

async function found(path: string, check: string): Promise<Finding | undefined> {
  return (await findingsOn(path)).find((finding) => finding.check === check);
}

describe("a port as it should be", () => {
  it("is good in all that is looked at", async () => {
    const { usb, port } = machine.plug(ADAPTER);
    machine.file(`${port}/latency_timer`, "1\n");
    machine.file(`${usb}/power/control`, "on\n");
    expect((await findingsOn(BY_ID)).map(({ check, level, what }) => [check, level, what])).toEqual([
      ["port", "good", `The port is ${BY_ID}, which leads to /dev/ttyUSB0, a name that stays.`],
      [
        "rights",
        "good",
        "/dev/ttyUSB0 is open to the group dialout (mode 0660); no process that can be seen has it locked.",
      ],
      ["latency-timer", "good", "The adapter hands bytes on after 1 ms at most."],
      ["usb-sleep", "good", "The adapter is not put to sleep while it is quiet."],
      ["meddlers", "good", "No program that tries ports of others runs here."],
      ["console", "good", "Neither the kernel nor a login uses /dev/ttyUSB0."],
    ]);
  });

  it("may be a UART of the box, which has neither latency nor sleep", async () => {
    machine.uart("ttyAMA0", "32");
    machine.file("sys/class/tty/console/active", "tty1\n");
    const findings = await findingsOn("/dev/ttyAMA0");
    expect(findings.map(({ check, level }) => [check, level])).toEqual([
      ["port", "good"],
      ["rights", "good"],
      ["console", "good"],
    ]);
    expect(findings[0]?.what).toBe("The port is /dev/ttyAMA0, a name that stays.");
  });

  it("may be a pseudo-terminal, or a link of somebody's own udev rule", async () => {
    machine.file("dev/pts/3");
    expect((await found("/dev/pts/3", "port"))?.level).toBe("good");
    machine.plug({ ...ADAPTER, by_id: "usb-other" });
    machine.link("dev/press", "dev/ttyUSB0");
    expect((await found("/dev/press", "port"))?.what).toContain("/dev/press, which leads to /dev/ttyUSB0");
  });
});

describe("the path", () => {
  it("that the kernel numbers may lead elsewhere tomorrow", async () => {
    machine.plug(ADAPTER);
    expect(await found("/dev/ttyUSB0", "port")).toMatchObject({
      level: "notice",
      what: "The station calls it /dev/ttyUSB0, which may lead to another adapter: call it /dev/serial/by-id/usb-adapter-A1.",
      do: `Set serial_port to ${BY_ID}.`,
    });
  });

  it("by a name that two adapters share is one", async () => {
    machine.plug({ node: "ttyUSB0", at: "1-1", by_id: "usb-twin" });
    machine.plug({ node: "ttyUSB1", at: "1-2" });
    expect(await found("/dev/serial/by-id/usb-twin", "port")).toMatchObject({
      level: "notice",
      do: `Set serial_port to ${BY_PATH}.`,
    });
    expect((await found(BY_PATH, "port"))?.level).toBe("good");
  });

  it("that leads nowhere is a fault, and who may have taken the adapter is named", async () => {
    expect(await findingsOn("/dev/gone")).toMatchObject([
      {
        check: "port",
        level: "fault",
        what: "The configured port /dev/gone is not there.",
        do: expect.stringContaining("serial-ports"),
      },
    ]);
    machine.process(811, "brltty");
    expect((await findingsOn("/dev/gone"))[0]?.do).toContain(
      "brltty, which runs here, may have taken its adapter away",
    );
  });
});

describe("rights", () => {
  it("for everybody are too many", async () => {
    machine.plug(ADAPTER);
    chmodSync(join(machine.root, "dev/ttyUSB0"), 0o666);
    expect(await found(BY_ID, "rights")).toMatchObject({
      level: "notice",
      what: "Every account of this machine may use /dev/ttyUSB0 (mode 0666).",
    });
  });

  it("for nobody are a fault", async () => {
    machine.plug(ADAPTER);
    chmodSync(join(machine.root, "dev/ttyUSB0"), 0o600);
    expect(await found(BY_ID, "rights")).toMatchObject({ level: "fault", do: expect.stringContaining("dialout") });
  });
});

describe("what else has to do with the port", () => {
  it("an adapter that gathers bytes delays the stop", async () => {
    const { port } = machine.plug(ADAPTER);
    machine.file(`${port}/latency_timer`, "16\n");
    expect(await found(BY_ID, "latency-timer")).toEqual({
      check: "latency-timer",
      level: "notice",
      what: "The adapter gathers bytes for 16 ms: readings come in bursts, and the stop that much later.",
      do: "Run `echo 1 | sudo tee /sys/class/tty/ttyUSB0/device/latency_timer` and make that a udev rule.",
      values: { latency_timer_ms: 16 },
    });
  });

  it("one that may be put to sleep is told", async () => {
    const { usb } = machine.plug(ADAPTER);
    machine.file(`${usb}/power/control`, "auto\n");
    expect((await found(BY_ID, "usb-sleep"))?.level).toBe("notice");
  });

  it("the modem manager is told with the rule that keeps it away, until it was told", async () => {
    const { usb } = machine.plug(ADAPTER);
    machine.process(812, "ModemManager");
    expect(await found(BY_ID, "modem-manager")).toMatchObject({
      level: "notice",
      do: expect.stringContaining('ATTRS{idVendor}=="1a86", ATTRS{idProduct}=="7523", ENV{ID_MM_DEVICE_IGNORE}="1"'),
    });
    machine.file(`${usb}/dev`, "189:7\n");
    machine.file("run/udev/data/c189:7", "S:bus/usb/001/008\nE:ID_MM_DEVICE_IGNORE=1\n");
    expect(await found(BY_ID, "modem-manager")).toBeUndefined();
    expect((await found(BY_ID, "meddlers"))?.what).toBe("ModemManager was told to keep away from it.");
  });

  it("a braille service is told, and neither on a UART of the box", async () => {
    machine.plug(ADAPTER);
    machine.uart("ttyAMA0", "32");
    machine.process(811, "brltty");
    machine.process(812, "ModemManager");
    expect((await found(BY_ID, "braille"))?.level).toBe("notice");
    expect((await findingsOn("/dev/ttyAMA0")).map(({ level }) => level)).toEqual(["good", "good", "good"]);
  });

  it("the kernel's own messages on it are a fault", async () => {
    machine.uart("ttyAMA0", "32");
    machine.file("sys/class/tty/console/active", "tty1 ttyAMA0\n");
    expect(await found("/dev/ttyAMA0", "console")).toMatchObject({
      level: "fault",
      what: "The kernel writes its own messages to /dev/ttyAMA0, between whatever is said to the board.",
    });
  });

  it("a login on it is a fault, known by the number of its terminal", async () => {
    machine.uart("ttyAMA0", "32");
    // ttyAMA0 is 204:64 in the kernel's Documentation/admin-guide/devices.txt; tty_nr by proc_pid_stat(5).
    machine.file("sys/class/tty/ttyAMA0/dev", "204:64\n");
    machine.process(700, "agetty", 204 * 256 + 65);
    expect((await found("/dev/ttyAMA0", "console"))?.level).toBe("good");
    machine.process(701, "a) name", 204 * 256 + 64);
    expect(await found("/dev/ttyAMA0", "console")).toMatchObject({
      level: "fault",
      what: "a) name (process 701) has /dev/ttyAMA0 as its terminal: it takes what the board says, and answers it.",
      do: "Run `sudo systemctl disable --now serial-getty@ttyAMA0`.",
    });
  });

  it("a minor number above 255 is read as the kernel writes it", async () => {
    machine.uart("ttyAMA0", "32");
    machine.file("sys/class/tty/ttyAMA0/dev", "4:300\n");
    // Minor 300 = 0x12c: 0x2c in bits 7 to 0, 1 in bit 20.
    machine.process(701, "login", (1 << 20) | (4 << 8) | 0x2c);
    expect((await found("/dev/ttyAMA0", "console"))?.level).toBe("fault");
  });
});
