/**
 * The alarm `storage`: whatever could not be written raises it, at every station, and the next writing that works lifts
 * it, unless something still waits to be written. Whatever raises it is tried again, so it never outlives its cause by
 * more than a minute.
 */
export interface StorageAlarmPorts {
  /** One sentence; null: storage is well again. */
  tell(sentence: string | null): void;
  /** What is not on the disk yet: finished sets, zeros, latches. */
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
