// The judgement of the page, as Node runs it: the same file that the page holds.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";

const folder = process.env.REWOUND_PAGE_BUILD;

export async function judgement() {
  const make = createRequire(import.meta.url)(path.join(folder, "rewound_judgement.js"));
  const module = await make({ wasmBinary: readFileSync(path.join(folder, "rewound_judgement.wasm")) });
  return (question) => {
    const text = JSON.stringify(question);
    const room = module.lengthBytesUTF8(text) + 1;
    const at = module._malloc(room);
    module.stringToUTF8(text, at, room);
    const answer = module.UTF8ToString(module._rewound_answer(at));
    module._free(at);
    return JSON.parse(answer);
  };
}
