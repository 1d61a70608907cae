/** The pseudo-terminals that ptys.pl made before it became this process: here the boards' end of each line. */
import { writeSync } from "node:fs";
import { ReadStream } from "node:tty";

export class Pty {
  /** Where a reader opens it. */
  readonly path: string;
  /** Writes that the driver did not take, since nobody read: a UART would have lost them. */
  lost = 0;
  readonly #descriptor: number;

  constructor(descriptor: number, path: string) {
    this.#descriptor = descriptor;
    this.path = path;
  }

  write(text: string): void {
    try {
      writeSync(this.#descriptor, text, null, "latin1");
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== "EAGAIN") throw error;
      this.lost += 1;
    }
  }

  /** What the host says on this line. */
  onHost(heard: (text: string) => void): void {
    new ReadStream(this.#descriptor).on("data", (bytes: Buffer) => heard(bytes.toString("latin1")));
  }
}

export function inheritedPtys(): readonly Pty[] {
  return (process.env["PTYS"] ?? "").split(",").map((entry) => {
    const [descriptor, path] = entry.split(":");
    if (path === undefined) throw new Error("this runs by way of ptys.pl");
    return new Pty(Number(descriptor), path);
  });
}
