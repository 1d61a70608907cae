/** A machine made of files, laid out as the kernel's Documentation/ABI/testing/sysfs-tty and sysfs-bus-usb say. */
import { chmodSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, relative } from "node:path";

export interface Adapter {
  readonly node: string;
  /** Where it is plugged in, such as 1-1.2. */
  readonly at: string;
  readonly serial?: string;
  readonly product?: string;
  readonly interface?: string;
  readonly by_id?: string;
}

export class FakeMachine {
  readonly root = mkdtempSync(join(tmpdir(), "tidemark-machine-"));

  remove(): void {
    rmSync(this.root, { recursive: true, force: true });
  }

  /** Answers where it is. */
  file(path: string, text = ""): string {
    const at = join(this.root, path);
    mkdirSync(dirname(at), { recursive: true });
    writeFileSync(at, text);
    return at;
  }

  /** Relative, as the kernel and udev make them. */
  link(path: string, to: string): void {
    mkdirSync(dirname(join(this.root, path)), { recursive: true });
    symlinkSync(relative(dirname(join(this.root, path)), join(this.root, to)), join(this.root, path));
  }

  /** An adapter as usb-serial shows it: interface, port, tty. Answers where its USB device and its port are. */
  plug({ node, at, serial, product = "USB Serial", interface: part = "00", by_id }: Adapter): Plugged {
    const usb = `sys/devices/platform/usb1/${at}`;
    const inner = `${usb}/${at}:1.${Number(part)}/${node}`;
    this.file(`${usb}/idVendor`, "1a86\n");
    this.file(`${usb}/idProduct`, "7523\n");
    this.file(`${usb}/product`, `${product}\n`);
    if (serial !== undefined) this.file(`${usb}/serial`, `${serial}\n`);
    this.file(`${usb}/${at}:1.${Number(part)}/bInterfaceNumber`, `${part}\n`);
    this.file(`${inner}/port_number`, "0\n");
    this.file(`${inner}/tty/${node}/dev`, "188:0\n");
    mkdirSync(join(this.root, "sys/bus/usb-serial/drivers/ch341-uart"), { recursive: true });
    this.link(`${inner}/driver`, "sys/bus/usb-serial/drivers/ch341-uart");
    this.link(`${inner}/tty/${node}/device`, inner);
    this.link(`sys/class/tty/${node}`, `${inner}/tty/${node}`);
    chmodSync(this.file(`dev/${node}`), 0o660);
    this.link(`dev/serial/by-path/platform-usb-0:${at}:1.${Number(part)}-port0`, `dev/${node}`);
    if (by_id !== undefined) this.link(`dev/serial/by-id/${by_id}`, `dev/${node}`);
    return { usb, port: inner };
  }

  uart(node: string, type: string): void {
    this.file(`sys/class/tty/${node}/type`, `${type}\n`);
    chmodSync(this.file(`dev/${node}`), 0o660);
  }

  /** A process as proc_pid_stat(5) shows it: `terminal` is its tty_nr. */
  process(pid: number, name: string, terminal = 0): void {
    this.file(`proc/${pid}/stat`, `${pid} (${name}) S 1 ${pid} ${pid} ${terminal} -1 4194304 101 0 0 0\n`);
  }
}

export interface Plugged {
  readonly usb: string;
  readonly port: string;
}
