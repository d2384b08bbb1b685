// Builds the page anew and fails where the result differs from the committed
// one in dist. It leaves dist as it was.
import { readdir, readFile, rm } from "node:fs/promises";
import { join, relative } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "vite";

const root = fileURLToPath(new URL("..", import.meta.url));
const committed = join(root, "dist");
const fresh = join(root, "node_modules", ".verify-build");

async function files(dir) {
  const out = new Map();
  for (const entry of await readdir(dir, { recursive: true, withFileTypes: true }))
    if (entry.isFile()) {
      const path = join(entry.parentPath, entry.name);
      out.set(relative(dir, path), await readFile(path));
    }
  return out;
}

await build({ root, logLevel: "warn", build: { outDir: fresh, emptyOutDir: true } });
const [was, is] = [await files(committed), await files(fresh)];
await rm(fresh, { recursive: true });

const wrong = [];
for (const [name, body] of is) if (!was.get(name)?.equals(body)) wrong.push(`${name}: ${was.has(name) ? "differs" : "is not in dist"}`);
for (const name of was.keys()) if (!is.has(name)) wrong.push(`${name}: is in dist, but the build does not make it`);
if (wrong.length) {
  console.error(`ui/dist is not what its sources build:\n  ${wrong.join("\n  ")}\nRun npm run build in ui and commit dist.`);
  process.exit(1);
}
console.log(`ui/dist is what its sources build: ${is.size} files`);
