// Every Flux query of the dashboards, parsed and type-checked by the language's own front end (an npm package in
// WebAssembly), since no server that runs Flux can be installed in a test. On demand:
//   cd "$(mktemp -d)" && npm install @influxdata/flux-lsp-browser@0.8.40 && node THIS_FILE PATH/TO/revival.json
import { readFileSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const folder = pathToFileURL(`${process.cwd()}/node_modules/@influxdata/flux-lsp-browser/`);
const module = new WebAssembly.Module(readFileSync(new URL("flux-lsp-browser_bg.wasm", folder)));
let checker; // the package is made for bundlers: its two halves import each other, so they are joined by hand here
const imports = {};
for (const one of WebAssembly.Module.imports(module))
  (imports[one.module] ??= {})[one.name] = (...words) => checker[one.name](...words);
globalThis.fluxExports = new WebAssembly.Instance(module, imports).exports;
const glue = readFileSync(new URL("flux-lsp-browser_bg.js", folder), "utf8");
writeFileSync(new URL("joined.mjs", folder), glue.replace(/^import .*$/m, "const wasm = globalThis.fluxExports;"));
checker = await import(new URL("joined.mjs", folder));

const queries = [];
(function walk(node) {
  if (node === null || typeof node !== "object") return;
  if (typeof node.query === "string" && /from\(|schema\./.test(node.query)) queries.push(node.query);
  Object.values(node).forEach(walk);
})(JSON.parse(readFileSync(process.argv[2])));

// What the dashboard server puts in before it sends a query.
const given = 'option v = {defaultBucket: "revival", timeRangeStart: -1h, timeRangeStop: now(), windowPeriod: 10s}';
const chosen = { site: "tarn-hut", bank: "north", temperature_limit: "43.3", temperature_warning: "38.0", "scale:raw": "* 1.8 + 32.0" };
const complete = (query) => {
  const lines = query.replace(/\$\{([\w:]+)\}/g, (_, name) => chosen[name]).split("\n");
  const isImport = (line) => line.startsWith("import ");
  return [...lines.filter(isImport), given, ...lines.filter((line) => !isImport(line))].join("\n");
};
const wrong = queries.filter((query) => !new checker.Flux(complete(query)).is_valid());
wrong.forEach((query) => console.log(`not valid Flux:\n${query}\n`));

// The checker itself is checked: it must refuse an unknown function and a wrong type.
const base = "from(bucket: v.defaultBucket)";
for (const bad of [`${base} |> nothing()`, `${base} |> limit(n: "many")`, `${base} |> filter(fn: (r) => r._value ==)`])
  if (new checker.Flux(complete(bad)).is_valid()) wrong.push(console.log(`the checker let through: ${bad}`));
console.log(`${queries.length} queries, ${wrong.length} wrong`);
process.exit(wrong.length || !queries.length ? 1 : 0);
