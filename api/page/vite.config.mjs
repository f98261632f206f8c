// Builds the page into the Python package: readable names, no inlined parts, the same bytes each time.
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { defineConfig } from "vite";

const sites = fileURLToPath(new URL("../../fixtures/", import.meta.url));

/** Ships the invented demo sites beside the page, byte for byte, with a list of their names. */
function demoSites() {
  return {
    name: "demo-sites",
    generateBundle() {
      const rows = [];
      for (const file of readdirSync(sites).filter((name) => name.endsWith(".json")).sort()) {
        const source = readFileSync(join(sites, file));
        const { name, note, pipes } = JSON.parse(source.toString("utf8"));
        rows.push({ file, name, note, pipes: pipes.length, mended: file.endsWith("-mended.json") });
        this.emitFile({ type: "asset", fileName: `demo/${file}`, source });
      }
      const source = JSON.stringify(rows, null, 1) + "\n";
      this.emitFile({ type: "asset", fileName: "demo/index.json", source });
    },
  };
}

/**
 * Writes into the watch's worker which files to keep for a day without a network: the watch's own
 * page, and whatever its script and style need. Their names hold digests, so a change is a new list.
 */
function keptFiles() {
  return {
    name: "kept-files",
    enforce: "post",
    generateBundle: {
      order: "post",
      handler(_, bundle) {
        const worker = bundle["watch-worker.js"];
        const needed = new Set(["watch.html"]);
        const take = (name) => {
          if (needed.has(name) || !bundle[name]) return;
          needed.add(name);
          for (const other of bundle[name].imports ?? []) take(other);
        };
        for (const [name, item] of Object.entries(bundle)) {
          if (item.type === "chunk" && item.isEntry && item.name === "watch") take(name);
          if (/\.(css|svg)$/.test(name)) take(name);
        }
        // A worker that keeps nothing would fail on site alone, where nobody can mend it.
        if (!/["'`]kept files["'`]/.test(worker.code)) this.error("the worker has no place for its list of files");
        worker.code = worker.code.replace(/["'`]kept files["'`]/, JSON.stringify([...needed].sort()));
      },
    },
  };
}

const page = (name) => fileURLToPath(new URL(name, import.meta.url));

export default defineConfig({
  base: "./",
  publicDir: false,
  plugins: [demoSites(), keptFiles()],
  build: {
    outDir: "../layoutcheck_service/page_files",
    emptyOutDir: true,
    target: "es2022",
    assetsInlineLimit: 0, // a data: address would need a looser policy
    modulePreload: false,
    cssCodeSplit: false,
    reportCompressedSize: false,
    rollupOptions: {
      input: { index: page("./index.html"), watch: page("./watch.html"), worker: page("./src/watch/worker.ts") },
      output: { entryFileNames: (chunk) => (chunk.name === "worker" ? "watch-worker.js" : "assets/[name]-[hash].js") },
    },
  },
});
