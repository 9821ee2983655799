// Pointage for JavaScript: a function for each command, over the C functions of the library as WebAssembly.

const COMMANDS = [
  "new", "keys", "scale", "water", "ice", "friction", "dose", "ready", "plan", "adjust", "compare", "learn", "fit-rate", "tables",
];

/** What cannot be answered: a message for people, `code` for programs, `field` the key at fault. */
export class PointageError extends Error {
  constructor({ kind, message, field }) {
    super(message);
    this.name = "PointageError";
    this.code = kind;
    this.field = field;
  }
}

/** The library itself: the file beside this one, or what is given. */
async function compiled(wasm) {
  if (wasm instanceof WebAssembly.Module) return wasm;
  if (wasm) return WebAssembly.compile(wasm);
  const place = new URL("pointage.wasm", import.meta.url);
  if (place.protocol !== "file:") return WebAssembly.compileStreaming(fetch(place));
  const { readFile } = await import("node:fs/promises");
  return WebAssembly.compile(await readFile(place));
}

/** Loads the library: `wasm` is its code, or left out, the file beside this one. */
export async function load(wasm) {
  const module = await compiled(wasm);
  let library = (await WebAssembly.instantiate(module)).exports;

  function call(request) {
    // A zero byte would end the text early; in JSON it is refused anyway, as this one.
    const bytes = new TextEncoder().encode(request.replaceAll("\0", "\ufffd"));
    try {
      const asked = library.pointage_alloc(bytes.length);
      if (!asked) throw new RangeError("the request is too long");
      new Uint8Array(library.memory.buffer).set(bytes, asked);
      const answered = library.pointage_call(asked);
      const memory = new Uint8Array(library.memory.buffer);
      const answer = new TextDecoder().decode(memory.subarray(answered, memory.indexOf(0, answered)));
      library.pointage_free(asked);
      library.pointage_free(answered);
      return answer;
    } catch (fault) {
      // Code that stopped on its way leaves its memory as it then was.
      library = new WebAssembly.Instance(module).exports;
      throw fault;
    }
  }

  function ask(command, fields) {
    const { version, made_by, error, ...answer } = JSON.parse(call(JSON.stringify({ ...fields, version: 1, command })));
    if (error) throw new PointageError(error);
    return answer;
  }

  const named = (command) => command.replace(/-(\w)/g, (_, letter) => letter.toUpperCase());
  const functions = COMMANDS.map((command) => [named(command), (fields = {}) => ask(command, fields)]);
  return { call, ...Object.fromEntries(functions) };
}
