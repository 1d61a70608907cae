/**
 * A serial port whose other end is a simulated station: the same stream class, and so the same reader, as hardware.
 *
 * The path is `simulated:<station>`. Back-pressure is the stream's own: nothing is simulated before it is asked for.
 */
import { SerialPortStream } from "@serialport/stream";
import type { RunningStation, SimulatedGym } from "./gym.ts";
import type { Pace } from "./pace.ts";

// The binding's own types come with the stream; their package cannot be resolved by name from an ES module.
type Binding = SerialPortStream["settings"]["binding"];
type BindingPort = NonNullable<SerialPortStream["port"]>;
type OpenOptions = Parameters<Binding["open"]>[0];
type PortInfo = Awaited<ReturnType<Binding["list"]>>[number];
type PortStatus = Awaited<ReturnType<BindingPort["get"]>>;

export const SIMULATED = "simulated:";

/** Opens a station of the gym by its path, `simulated:<station>`; rejects as a port does that cannot be opened. */
export function openSimulatedPort(gym: SimulatedGym, pace: Pace): (path: string) => Promise<SerialPortStream> {
  const binding = simulatedBinding(gym, pace);
  return (path) =>
    new Promise((resolve, reject) => {
      const port: SerialPortStream = new SerialPortStream({ binding, path, baudRate: 115_200 }, (error) =>
        error ? reject(error) : resolve(port),
      );
    });
}

export function simulatedBinding(gym: SimulatedGym, pace: Pace): Binding {
  return {
    list: async () => gym.stations.map(({ id }) => portInfo(id)),
    open: async (options) => {
      const station = gym.stations.find(({ id }) => options.path === SIMULATED + id);
      if (station === undefined) throw new Error(`no such simulated station: ${options.path}`);
      return new SimulatedPort(station, pace, options);
    },
  };
}

/** What the stream expects of a read or write that ended because the port was closed on purpose. */
class Canceled extends Error {
  readonly canceled = true;
}

class SimulatedPort implements BindingPort {
  readonly openOptions: Required<OpenOptions>;
  isOpen = true;
  readonly #station: RunningStation;
  readonly #pace: Pace;
  readonly #ended = new AbortController();
  #pending = Buffer.alloc(0);

  constructor(station: RunningStation, pace: Pace, options: OpenOptions) {
    const refused = station.attach((why) => this.#ended.abort(why));
    if (refused !== null) throw refused;
    this.#station = station;
    this.#pace = pace;
    this.openOptions = {
      dataBits: 8,
      lock: true,
      stopBits: 1,
      parity: "none",
      rtscts: false,
      xon: false,
      xoff: false,
      xany: false,
      hupcl: true,
      ...options,
    };
    pace.opened(station);
  }

  async read(buffer: Buffer, offset: number, length: number): Promise<{ buffer: Buffer; bytesRead: number }> {
    this.#check();
    while (this.#pending.length === 0) {
      try {
        await this.#pace.move(this.#station, this.#ended.signal);
      } catch (error) {
        this.#check();
        throw error;
      }
      this.#check();
      this.#pending = Buffer.from(this.#station.take(), "latin1");
    }
    const bytesRead = this.#pending.copy(buffer, offset, 0, length);
    this.#pending = this.#pending.subarray(bytesRead);
    return { buffer, bytesRead };
  }

  async write(buffer: Buffer): Promise<void> {
    this.#check();
    this.#station.hear(buffer.toString("latin1"));
  }

  async close(): Promise<void> {
    this.isOpen = false;
    if (this.#ended.signal.aborted) return;
    this.#station.detach();
    this.#ended.abort(new Canceled(`${this.openOptions.path} was closed`));
  }

  async update(): Promise<void> {}
  async set(): Promise<void> {}

  async get(): Promise<PortStatus> {
    return { cts: true, dsr: true, dcd: true };
  }

  async getBaudRate(): Promise<{ baudRate: number }> {
    return { baudRate: this.openOptions.baudRate };
  }

  async flush(): Promise<void> {
    this.#station.take();
    this.#pending = Buffer.alloc(0);
  }

  async drain(): Promise<void> {}

  #check(): void {
    if (this.#ended.signal.aborted) throw this.#ended.signal.reason;
  }
}

function portInfo(id: string): PortInfo {
  return {
    path: SIMULATED + id,
    manufacturer: undefined,
    serialNumber: undefined,
    pnpId: undefined,
    locationId: undefined,
    productId: undefined,
    vendorId: undefined,
  };
}
