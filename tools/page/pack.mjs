// Packs the page into one file: script, style, worker and the judgement, gzipped, in base64; a content policy that allows
// no connection and no script but the page's own.
//
// usage: node pack.mjs FOLDER OUT   (FOLDER: what the build made, page.js and worker.js by esbuild)
import { createHash } from "node:crypto";
import { readFileSync, writeFileSync } from "node:fs";
import path from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";

const [folder, out] = process.argv.slice(2);
const source = path.join(path.dirname(fileURLToPath(import.meta.url)), "source");
const { words } = await import(path.join(source, "words.mjs"));
const read = (...parts) => readFileSync(path.join(...parts), "utf8").trimEnd();
const inside = (text) => text.replace(/<\/(script|style)/gi, "<\\/$1").replaceAll("<!--", "<\\!--");

const script = inside(read(folder, "page.js"));
// The names that the function is exported by stand behind it; a worker has none of them, its own scope in their place.
const worker = inside(`${read(folder, "rewound_judgement.js")}\nself.rewound_judgement = rewound_judgement;\n${read(folder, "worker.js")}`);
const judgement = gzipSync(readFileSync(path.join(folder, "rewound_judgement.wasm")), { level: 9 }).toString("base64");
const policy = [
  "default-src 'none'",
  `script-src 'sha256-${createHash("sha256").update(script).digest("base64")}' 'wasm-unsafe-eval'`,
  "worker-src blob: 'self'",
  "style-src 'unsafe-inline'",
  "img-src data: blob:",
  "connect-src 'none'",
  "form-action 'none'",
  "base-uri 'none'",
].join("; ");

const parts = { POLICY: policy, STYLE: inside(read(folder, "page.css")), WORKER: worker, JUDGEMENT: judgement, NO_SCRIPT: words.page.no_script, SCRIPT: script };
const page = read(source, "index.html").replace(/\b(POLICY|STYLE|WORKER|JUDGEMENT|NO_SCRIPT|SCRIPT)\b/g, (_, name) => parts[name]);
writeFileSync(out, `${page}\n`);
