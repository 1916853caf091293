// The worker: unpacks the judgement once, then answers one question after another. `rewound_judgement` stands before this
// file in what the page holds.

let module = null;

async function unpacked(packed) {
  const bytes = Uint8Array.from(atob(packed), (letter) => letter.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

function answer(question) {
  const room = module.lengthBytesUTF8(question) + 1;
  const at = module._malloc(room);
  module.stringToUTF8(question, at, room);
  const text = module.UTF8ToString(module._rewound_answer(at));
  module._free(at);
  return text;
}

self.onmessage = async ({ data }) => {
  try {
    if (data.packed) {
      module = await self.rewound_judgement({ wasmBinary: await unpacked(data.packed) });
      self.postMessage({ ready: true });
    } else self.postMessage({ number: data.number, answer: answer(data.question) });
  } catch (trouble) {
    if (data.packed) self.postMessage({ failed: String(trouble?.message ?? trouble) });
    else self.postMessage({ number: data.number, answer: JSON.stringify({ trouble: [String(trouble?.message ?? trouble)] }) });
  }
};
