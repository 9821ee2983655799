// Writes dist/pointage.html: the page with the library in it, one file that needs nothing else.
import { mkdir, readFile, writeFile } from "node:fs/promises";
import { gzipSync } from "node:zlib";

const file = (path) => readFile(new URL(path, import.meta.url));
const parts = {
  wasm: gzipSync(await file("../pointage.wasm"), { level: 9 }).toString("base64"),
  bake: await file("../../../data/demo/market-poolish.toml"),
  pointage: await file("../pointage.js"),
  page: await file("page.js"),
};
const page = String(await file("page.html")).replace(/\{\{(\w+)\}\}/g, (_, part) => parts[part]);
await mkdir(new URL("../dist/", import.meta.url), { recursive: true });
await writeFile(new URL("../dist/pointage.html", import.meta.url), page);
