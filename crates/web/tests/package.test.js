// The package in Node: the program's bytes, its functions and its types.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { gzipSync } from "node:zlib";
import { readFileSync, writeFileSync, mkdtempSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { test } from "node:test";
import { PointageError, load } from "../pointage.js";

const file = (path) => readFileSync(new URL(`../../../${path}`, import.meta.url), "utf8");
const pointage = await load();

// What the program answers to the same requests; build it first (`cargo build --release`).
const requests = `${file("tests/requests.jsonl")}${file("tests/golden/requests.jsonl")}`;
const program = process.env.POINTAGE ?? new URL("../../../target/release/pointage", import.meta.url).pathname;
const answers = execFileSync(program, ["call"], { input: requests, encoding: "utf8", maxBuffer: 1e9 });

/** Numbers of an iteration differ in their last digits where the machine's functions do. */
function near(value, expected, path = "answer") {
  if (typeof expected === "number") assert.ok(Math.abs(value - expected) <= 1e-6 * Math.max(1, Math.abs(expected)), `${path}: ${value}, not ${expected}`);
  else if (expected && typeof expected === "object") for (const key of Object.keys(expected)) near(value[key], expected[key], `${path}.${key}`);
}

test("every request is answered with the program's bytes", () => {
  const [asked, expected] = [requests, answers].map((lines) => lines.trimEnd().split("\n"));
  assert.equal(asked.length, expected.length);
  assert.ok(asked.length > 100);
  asked.forEach((line, place) => {
    const answer = pointage.call(line);
    if (["learn", "fit-rate"].includes(JSON.parse(line).command)) near(JSON.parse(answer), JSON.parse(expected[place]), line);
    else assert.equal(answer, expected[place]);
  });
});

test("without learn the rest is answered with the same bytes", async () => {
  const smaller = await load(readFileSync(new URL("../pointage-without-learn.wasm", import.meta.url)));
  for (const line of requests.trimEnd().split("\n")) {
    if (!["learn", "fit-rate"].includes(JSON.parse(line).command)) assert.equal(smaller.call(line), pointage.call(line));
  }
  assert.throws(() => smaller.learn({ rows: [] }), { code: "left-out" });
});

test("a phone loads no more than it did", () => {
  // The bars are 600 and 450 kB; DEVELOPERS.md says what takes the room.
  for (const [name, most] of [["pointage", 740_000], ["pointage-without-learn", 635_000]]) {
    const { length } = gzipSync(readFileSync(new URL(`../${name}.wasm`, import.meta.url)), { level: 9 });
    assert.ok(length <= most, `${name}: ${length} bytes`);
  }
});

test("there is a function for each command", () => {
  const commands = JSON.parse(file("data/schema/request.json")).oneOf.map((request) => request.title.replace("fit-rate", "fitRate"));
  assert.deepEqual(Object.keys(pointage).sort(), ["call", ...commands].sort());
  const { version, made_by, ...ice } = JSON.parse(pointage.call('{"version": 1, "command": "ice", "total_g": 4000, "tap_c": 18, "want_c": 5}'));
  assert.equal(version, 1);
  assert.deepEqual(pointage.ice({ total_g: 4000, tap_c: 18, want_c: 5 }), ice);
});

test("what cannot be answered is an error with its code and field", () => {
  assert.throws(() => pointage.ready({ kind: "poolish", dose_percent: -1, at_c: 21 }), (error) => {
    assert.ok(error instanceof PointageError);
    assert.deepEqual([error.code, error.field], ["out-of-range", "dose_percent"]);
    return true;
  });
  for (const text of ["", "\0", "[".repeat(100_000), "{}"]) assert.ok("error" in JSON.parse(pointage.call(text)));
});

test("types are strict", () => {
  const folder = mkdtempSync(join(tmpdir(), "pointage-"));
  const tsc = new URL("../node_modules/.bin/tsc", import.meta.url).pathname;
  const compiled = (kind) => {
    const types = new URL("../pointage.js", import.meta.url).pathname;
    writeFileSync(join(folder, "tonight.mts"), `import { load } from "${types}";
const { ready } = await load();
const { window_h } = ready({ kind: "${kind}", dose_percent: 0.3, at_c: 21 });
const first: number | undefined = window_h?.[0];
console.log(first);
`);
    const options = ["--strict", "--noEmit", "--target", "es2022", "--module", "nodenext", "--skipLibCheck", "false", join(folder, "tonight.mts")];
    try {
      return execFileSync(tsc, options, { encoding: "utf8" });
    } catch (error) {
      return error.stdout;
    }
  };
  assert.equal(compiled("poolish"), "");
  assert.match(compiled("bread"), /'"bread"' is not assignable to type/);
});

test("the lines of README and guide run", () => {
  const root = new URL("../../../", import.meta.url).pathname;
  const printed = ["README.md", "src/guide/embedding.md"].map((document) => {
    const lines = file(document).match(/```js\n(.*?)```/s)[1];
    return execFileSync("node", ["--input-type=module", "--eval", lines], { cwd: root, encoding: "utf8" });
  });
  assert.equal(Number(printed[0]), pointage.ready({ kind: "poolish", dose_percent: 0.3, at_c: 21, yeast: "fresh" }).ready_h);
  assert.match(printed[1], /^\d+\.\d+ \[ \d+\.\d+, \d+\.\d+ \] \d+\n$/);
});
