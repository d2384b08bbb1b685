import { svelte } from "@sveltejs/vite-plugin-svelte";
import { defineConfig } from "vite";

// Where `npm run dev` finds the data: a running gaitwright, or the invented
// results served by `go test ./internal/web -run TestServeInvented -serve 127.0.0.1:8787`.
const data = process.env.GAITWRIGHT_DATA ?? "http://127.0.0.1:8787";

export default defineConfig({
  plugins: [svelte()],
  build: {
    target: "es2023",
    assetsInlineLimit: 0,
    // What a page needs is asked for at once, not one file after the other names it.
    modulePreload: { polyfill: false },
    reportCompressedSize: false,
    // All that the first page rests on is one file beside the entry.
    rolldownOptions: { output: { codeSplitting: { groups: [{ name: "first", tags: ["$initial"] }] } } },
  },
  server: { proxy: { "/api": data } },
});
