/**
 * The alarm `storage`: whatever could not be written raises it, at every station, and the next writing that works lifts
 * it, unless finished sets still wait in memory.
 */
export interface StorageAlarmPorts {
  /** One sentence; null: storage is well again. */
  tell(sentence: string | null): void;
  /** Finished sets that are not on the disk yet. */
  waiting(): number;
}

export class StorageAlarm {
  readonly #ports: StorageAlarmPorts;
  #stands = false;

  constructor(ports: StorageAlarmPorts) {
    this.#ports = ports;
  }

  failed(sentence: string): void {
    this.#stands = true;
    this.#ports.tell(sentence);
  }

  worked(): void {
    if (!this.#stands || this.#ports.waiting() > 0) return;
    this.#stands = false;
    this.#ports.tell(null);
  }
}
