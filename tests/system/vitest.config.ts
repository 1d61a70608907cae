import { fileURLToPath } from "node:url";
import { defineConfig } from "vitest/config";

// Tests that need programs beside Node on the machine (mosquitto, openssl); run with --config tests/system/vitest.config.ts.
export default defineConfig({
  root: fileURLToPath(new URL("../..", import.meta.url)),
  test: {
    include: ["tests/system/**/*.test.ts"],
    testTimeout: 60_000,
    hookTimeout: 60_000,
    // They wait more than they reckon: for a plug, a clock, a broker that comes back.
    maxWorkers: 3,
  },
});
