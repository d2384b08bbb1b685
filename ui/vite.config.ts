import { mkdtemp, readFile, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { svelte } from "@sveltejs/vite-plugin-svelte";
import { build, defineConfig, type Plugin, type ResolvedConfig } from "vite";

// Where `npm run dev` finds the data: a running gaitwright, or the invented
// results served by `go test ./internal/web -run TestServeInvented -serve 127.0.0.1:8787`.
const data = process.env.GAITWRIGHT_DATA ?? "http://127.0.0.1:8787";

// Beside index.html, the first page as it stands before its script is there, in each
// language: first.en.html and first.de.html without runners, and first.en.json and
// first.de.json, from which the server makes it with them. It is painted while the script
// is on its way, which then takes it over as it is.
function firstPage(): Plugin {
  let config: ResolvedConfig;
  return {
    name: "first-page",
    apply: (_, env) => env.command === "build" && !env.isSsrBuild,
    configResolved: (resolved) => void (config = resolved),
    async closeBundle() {
      const made = await mkdtemp(join(tmpdir(), "first-page-"));
      try {
        await build({
          root: config.root,
          configFile: false,
          plugins: [svelte()],
          logLevel: "warn",
          publicDir: false,
          build: { ssr: "src/first.ts", outDir: made, emptyOutDir: false, minify: false },
          ssr: { noExternal: true },
        });
        await writeFile(join(made, "package.json"), '{"type": "module"}');
        const { first, languages } = (await import(pathToFileURL(join(made, "first.js")).href)) as typeof import("./src/first");
        const dist = resolve(config.root, config.build.outDir);
        const index = await readFile(join(dist, "index.html"), "utf8");
        for (const language of languages) {
          const { asked, sent } = await first(language);
          const whole = (page: string, data = "") => {
            const put = (from: RegExp, to: string) => (html: string) => {
              if (!from.test(html)) throw new Error(`index.html has no ${from}`);
              return html.replace(from, () => to);
            };
            // The script stands last: a browser may paint before it has reached it.
            const script = /\s*<script type="module".*?<\/script>/;
            const steps = [
              put(/<html lang="en">/, `<html lang="${language}">`),
              put(/<div id="page">.*?<\/div>/s, `<div id="page" data-first="${language}">${page}</div>`),
              put(/(?=\s*<\/body>)/, `\n    ${data}${index.match(script)}`),
              put(script, ""),
            ];
            return steps.reduce((html, step) => step(html), index);
          };
          const pages = Object.entries(sent.pages).map(([name, page]) => [name, whole(page, '<script type="application/json" id="sent">{{sent}}</script>')]);
          await writeFile(join(dist, `first.${language}.html`), whole(asked));
          await writeFile(join(dist, `first.${language}.json`), JSON.stringify({ ...sent, pages: Object.fromEntries(pages) }));
        }
      } finally {
        await rm(made, { recursive: true });
      }
    },
  };
}

export default defineConfig({
  plugins: [svelte(), firstPage()],
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
