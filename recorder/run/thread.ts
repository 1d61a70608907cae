/** A thread of its own for long work with files, and what it says: no station waits for it. */
import { Worker } from "node:worker_threads";

/** `source` is the URL of the thread's file as a source file, in a folder of this program. */
export function startThread(source: URL, workerData: object): Worker {
  if (!import.meta.url.endsWith(".ts")) {
    return new Worker(new URL(source.href.replace(/\.ts$/, ".js")), { workerData });
  }
  // From sources; store/store.ts says why the thread begins with a line that registers the loader.
  const loader = JSON.stringify(import.meta.resolve("tsx/esm/api"));
  const begin = `import(${loader}).then(({ register }) => { register(); return import(${JSON.stringify(source.href)}); })`;
  return new Worker(begin, { eval: true, workerData, execArgv: [] });
}

/** What it says next. Rejects where it ends without another word. */
export function heardNext<T>(worker: Worker): Promise<T> {
  return new Promise((resolve, reject) => {
    const done = (): void => {
      worker.off("message", said);
      worker.off("error", failed);
      worker.off("exit", ended);
    };
    const said = (message: T): void => {
      done();
      resolve(message);
    };
    const failed = (error: Error): void => {
      done();
      reject(error);
    };
    const ended = (): void => failed(new Error("the thread ended without an answer"));
    worker.on("message", said);
    worker.on("error", failed);
    worker.on("exit", ended);
  });
}
