import { defineConfig } from "vitest/config";
import { fonts } from "./plugins/fonts.ts";
import { words } from "./plugins/words.ts";
import { worker } from "./plugins/worker.ts";

// The daemon's address during development; the mock of mock/server.mjs listens there too.
const daemon = process.env["TAFFRAIL_URL"] ?? "http://127.0.0.1:7245";
const proxy = { "/api": daemon };

export default defineConfig({
  plugins: [fonts(), words(), worker()],
  build: {
    target: "es2022",
    // The server's content security policy allows no fonts from data: addresses and no inline script.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    reportCompressedSize: true,
  },
  server: { proxy },
  preview: { proxy },
  test: { include: ["test/**/*.test.ts"], environment: "node" },
});
