// Writes pointage.d.ts from data/schema: the types of requests and answers, and a function for each command.
import { readFile, writeFile } from "node:fs/promises";
import { compile } from "json-schema-to-typescript";

// The compiler knows tuples as older drafts have them.
const tuples = (_, value) => (value?.prefixItems ? { ...value, items: value.prefixItems } : value);
const schema = async (name) =>
  JSON.parse(await readFile(new URL(`../../data/schema/${name}.json`, import.meta.url), "utf8"), tuples);
const [requests, answers] = [await schema("request"), await schema("answer")];
const $defs = { ...answers.$defs, ...requests.$defs };
const properties = { ErrorKind: { $ref: "#/$defs/ErrorKind" } };
const functions = requests.oneOf.map((request, place) => {
  const answer = answers.anyOf[place].$ref.split("/").pop();
  const name = request.title.replace(/-(\w)/g, (_, letter) => letter.toUpperCase());
  const type = `${name[0].toUpperCase()}${name.slice(1)}Request`;
  const { version, command, request_id, ...fields } = request.properties;
  const required = request.required.filter((key) => key in fields);
  $defs[type] = { ...request, title: type, properties: fields, required };
  properties[type] = { $ref: `#/$defs/${type}` };
  properties[answer] = { $ref: `#/$defs/${answer}` };
  const about = request.description.split("\n")[0];
  return `  /** ${about} */\n  ${name}(fields${required.length ? "" : "?"}: ${type}): ${answer};\n`;
});
const types = await compile({ title: "All", type: "object", properties, $defs }, "All", {
  additionalProperties: false,
  bannerComment: "// Made from data/schema by types.mjs: change nothing here.",
});
await writeFile(
  new URL("pointage.d.ts", import.meta.url),
  `${types}
/** What cannot be answered: a message for people, \`code\` for programs, \`field\` the key at fault. */
export class PointageError extends Error {
  readonly code: ErrorKind | "fault";
  readonly field: string | null;
}

export interface Pointage {
  /** Answers a request that is JSON text, as JSON text. What is wrong with it stands in the answer. */
  call(request: string): string;
${functions.join("")}}

/** Loads the library: \`wasm\` is its code, or left out, the file beside this one. */
export function load(wasm?: BufferSource | WebAssembly.Module): Promise<Pointage>;
`,
);
