import { fileURLToPath } from "node:url";
import { defineConfig } from "vitest/config";

// Kept here so that the top level stays as small as the project's rules say.
export default defineConfig({
  root: fileURLToPath(new URL("..", import.meta.url)),
  test: {
    include: ["tests/**/*.test.ts"],
    exclude: ["tests/system/**", "tests/bench/**"],
    testTimeout: 30_000,
  },
});
