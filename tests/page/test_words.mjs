// The catalogue beside the list of keys: every word that may be chosen has a name and a sentence, no field shows a key as
// a file has it, and no sentence of the page stands in its code.
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import path from "node:path";
import { test } from "node:test";
import { fileURLToPath } from "node:url";
import { judgement } from "./judgement.mjs";

const source = path.join(path.dirname(fileURLToPath(import.meta.url)), "../../tools/page/source");
const { words, say, hint_of, label_of, choice_of } = await import(path.join(source, "words.mjs"));
const list = (await judgement())({ ask: "keys" });
const WITHOUT_SENTENCE = new Set(["insulation_class"]); // degrees say themselves

test("every allowed word has a name and a sentence", () => {
  let count = 0;
  for (const [section, { keys }] of Object.entries(list.sections))
    for (const key of keys)
      if (key.kind === "word" && !WITHOUT_SENTENCE.has(key.name))
        for (const word of key.allowed.split(" ")) {
          assert.ok(words.choice[key.name]?.[word]?.[1], `${section}.${key.name} = ${word}`);
          ++count;
        }
  for (const word of list.equipment) assert.ok(choice_of("have", word)[1], word);
  assert.ok(count > 50, `${count} words`);
});

test("every word of the catalogue is an allowed one", () => {
  const allowed = new Map([["have", new Set(list.equipment)], ["phases", new Set(["1", "3"])]]);
  for (const { keys } of Object.values(list.sections))
    for (const key of keys)
      if (key.kind === "word") allowed.set(key.name, new Set([...(allowed.get(key.name) ?? []), ...key.allowed.split(" ")]));
  for (const [name, choices] of Object.entries(words.choice))
    for (const word of Object.keys(choices)) assert.ok(allowed.get(name)?.has(word), `${name} = ${word}`);
});

test("no label or hint shows a key as a file has it", () => {
  for (const [section, { keys }] of Object.entries(list.sections)) {
    if (section === "instruments.voltmeter") continue;
    for (const key of keys)
      for (const text of [label_of(section, key), hint_of(section, key)])
        assert.doesNotMatch(text, /[a-z]_[a-zA-Z]|[`[\]]/, `${section}.${key.name}: ${text}`);
  }
});

test("every entry of the catalogue that names a key names one of the list", () => {
  for (const kind of ["label", "hint"])
    for (const place of Object.keys(words[kind])) {
      const [section, name] = place.split(".");
      assert.ok(list.sections[section].keys.some((key) => key.name === name), place);
    }
});

test("what the code says is in the catalogue", () => {
  const used = new Set();
  for (const file of readdirSync(source).filter((name) => /\.(mjs|html)$/.test(name))) {
    const text = readFileSync(path.join(source, file), "utf8");
    for (const [, place] of text.matchAll(/\bsay\("([\w.]+)"/g)) used.add(place);
    for (const [, place] of text.matchAll(/data-say(?:-label)?="([\w.]+)"/g)) used.add(place);
  }
  assert.ok(used.size > 60, `${used.size} places`);
  for (const place of used) assert.notEqual(say(place, {}, ""), "", place);
});

test("no sentence stands in the code", () => {
  for (const file of readdirSync(source).filter((name) => name.endsWith(".mjs") && name !== "words.mjs")) {
    const text = readFileSync(path.join(source, file), "utf8").replace(/\/\*[^]*?\*\//g, "").replace(/^\s*\/\/.*$/gm, "").replace(/\s\/\/ .*$/gm, "");
    const found = [...text.matchAll(/"([^"\n]*)"/g)].map(([, inside]) => inside).filter((inside) => /^[A-Z][a-z]+ [a-z]+ /.test(inside));
    assert.deepEqual(found, [], file);
  }
});
