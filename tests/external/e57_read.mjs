// Reads E57 files by the npm package web-e57: node e57_read.mjs PACKAGE FILE.e57… writes FILE.e57.xyz.
import { readFileSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const [folder, ...files] = process.argv.slice(2);
// The package is made for bundlers, which would load its module by themselves.
const glue = await import(pathToFileURL(`${folder}/e57_bg.js`));
const { instance } = await WebAssembly.instantiate(readFileSync(`${folder}/e57_bg.wasm`), { "./e57_bg.js": glue });
glue.__wbg_set_wasm(instance.exports);
for (const file of files) writeFileSync(`${file}.xyz`, glue.convertE57(new Uint8Array(readFileSync(file)), "XYZ"));
