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

export default defineConfig({
  base: "./",
  publicDir: false,
  plugins: [demoSites()],
  build: {
    outDir: "../layoutcheck_service/page_files",
    emptyOutDir: true,
    target: "es2022",
    assetsInlineLimit: 0, // a data: address would need a looser policy
    modulePreload: false,
    cssCodeSplit: false,
    reportCompressedSize: false,
  },
});
