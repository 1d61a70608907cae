/** The worker's side of the conversation: one request at a time, in order, each answered under its number. */
import type { MessagePort } from "node:worker_threads";
import { failureOf, type StoreFailureCode } from "./failure.ts";
import type { MethodName, StoreMethods, Tables } from "./tables.ts";

export interface StoreRequest {
  readonly id: number;
  readonly method: MethodName;
  readonly args: readonly unknown[];
}

/** Errors lose their class between threads, so a failure travels as its parts. */
export interface FailureParts {
  readonly code: StoreFailureCode;
  readonly message: string;
}

export type StoreAnswer =
  | { readonly is: "opened"; readonly store_id: string; readonly opened_with: string | null }
  | { readonly is: "refused"; readonly failure: FailureParts }
  | { readonly is: "done"; readonly id: number; readonly value: unknown }
  | { readonly is: "failed"; readonly id: number; readonly failure: FailureParts };

/** Set by whoever waits for the thread to end: nothing more is begun, and the file is let go as it is. */
export type Hurry = Int32Array<SharedArrayBuffer>;
export const isHurried = (hurry: Hurry): boolean => Atomics.load(hurry, 0) !== 0;
export const noHurry = (): Hurry => new Int32Array(new SharedArrayBuffer(4));

/** Opens, says so, and answers until `close`; then the port is closed, and with it the thread ends. */
export async function serve(port: MessagePort, open: () => Promise<Tables>, hurry: Hurry = noHurry()): Promise<void> {
  const say = (answer: StoreAnswer): void => port.postMessage(answer);
  let tables: Tables;
  try {
    tables = await open();
  } catch (error) {
    say({ is: "refused", failure: partsOf(error) });
    port.close();
    return;
  }
  const { store_id, opened_with, methods } = tables;
  port.on("message", (request: StoreRequest) => {
    if (isHurried(hurry)) say(hurried(request, tables));
    else say(answerTo(request, methods));
    if (request.method === "close") port.close();
  });
  say({ is: "opened", store_id, opened_with });
}

/** What was committed is safe without the tidying that closing does: the log stays beside the file for the next opening. */
function hurried({ id, method }: StoreRequest, tables: Tables): StoreAnswer {
  if (method !== "close") {
    const failure = { code: "closed", message: "the store closes and begins nothing more" } as const;
    return { is: "failed", id, failure };
  }
  tables.abandon();
  return { is: "done", id, value: undefined };
}

function answerTo({ id, method, args }: StoreRequest, methods: StoreMethods): StoreAnswer {
  try {
    return { is: "done", id, value: (methods[method] as (...args: unknown[]) => unknown)(...args) };
  } catch (error) {
    return { is: "failed", id, failure: partsOf(error) };
  }
}

function partsOf(error: unknown): FailureParts {
  const { code, message } = failureOf(error, "the store failed");
  return { code, message };
}
