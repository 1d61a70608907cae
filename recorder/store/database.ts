/**
 * One open SQLite file: prepared statements kept by their text, and transactions. Synchronous, so it belongs in a worker.
 *
 * The library cannot finalise a statement, and SQLite keeps a connection alive as long as it has one: after `close` the
 * file is let go when the statements are collected or the thread ends. So `close` first moves the write-ahead log into the
 * file, and nobody depends on the moment of letting go.
 */
import { backup, DatabaseSync, type DatabaseSyncInstance, type StatementSyncInstance } from "@photostructure/sqlite";

export type SqlValue = string | number | null | Uint8Array;

/** How long to wait for a reader from outside, such as somebody looking into the file, ms. */
const BUSY_TIMEOUT_MS = 1000;

export class Database {
  readonly path: string;
  readonly #connection: DatabaseSyncInstance;
  readonly #statements = new Map<string, StatementSyncInstance>();

  constructor(path: string) {
    this.path = path;
    this.#connection = new DatabaseSync(path, { timeout: BUSY_TIMEOUT_MS, defensive: true });
  }

  /** Texts without parameters and without an answer. */
  exec(text: string): void {
    this.#connection.exec(text);
  }

  /** Runs a change; the key of the row inserted last. */
  run(text: string, ...values: SqlValue[]): number {
    return Number(this.#statement(text).run(...values).lastInsertRowid);
  }

  get<Row>(text: string, ...values: SqlValue[]): Row | undefined {
    return this.#statement(text).get(...values) as Row | undefined;
  }

  all<Row>(text: string, ...values: SqlValue[]): Row[] {
    return this.#statement(text).all(...values) as Row[];
  }

  /** The single value of a pragma that has one. */
  pragma(name: string): string | number | null {
    const row = this.get<Record<string, string | number>>(`PRAGMA ${name}`);
    return row === undefined ? null : (Object.values(row)[0] ?? null);
  }

  /** All of `work` or nothing; committed to the disk when it returns. */
  transaction<T>(work: () => T): T {
    this.exec("BEGIN IMMEDIATE");
    try {
      const result = work();
      this.exec("COMMIT");
      return result;
    } catch (error) {
      // A full disk may have rolled it back already.
      if (this.#connection.isTransaction) this.exec("ROLLBACK");
      throw error;
    }
  }

  /** Copies every page to another file, as the transaction that is open here sees them, on a thread of the library's. */
  async copyTo(path: string, pages_at_once: number): Promise<void> {
    await backup(this.#connection, path, { rate: pages_at_once });
  }

  /** Every statement asked for so far, for whoever wants to see how it is planned. */
  get texts(): readonly string[] {
    return [...this.#statements.keys()];
  }

  close(): void {
    try {
      this.exec("PRAGMA wal_checkpoint(TRUNCATE)");
    } catch {
      // A full disk, say. The log stays beside the file, with everything that was committed, for the next opening.
    }
    this.abandon();
  }

  /** Lets go without touching the file: for one that is damaged or not ours. */
  abandon(): void {
    this.#statements.clear();
    this.#connection.close();
  }

  #statement(text: string): StatementSyncInstance {
    const known = this.#statements.get(text);
    if (known !== undefined) return known;
    const prepared = this.#connection.prepare(text);
    this.#statements.set(text, prepared);
    return prepared;
  }
}
