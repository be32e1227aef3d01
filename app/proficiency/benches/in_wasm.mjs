// Runs a bench that was built for WebAssembly, under Node's WASI.
//
//   rustup target add wasm32-wasip1
//   cargo bench -p proficiency --bench timeline --target wasm32-wasip1 --no-run
//   node app/proficiency/benches/in_wasm.mjs FILE.wasm
import { readFile } from "node:fs/promises";
import { argv } from "node:process";
import { WASI } from "node:wasi";

const wasi = new WASI({ version: "preview1", args: ["bench", ...argv.slice(3)], returnOnExit: true });
const wasm = await WebAssembly.compile(await readFile(argv[2]));
const instance = await WebAssembly.instantiate(wasm, wasi.getImportObject());
process.exitCode = wasi.start(instance);
