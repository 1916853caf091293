// Every record of reference/records, judged by the page's WebAssembly and by the native program: decisions, findings,
// sentences and refusals word for word, numbers to 1e-6.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { readFileSync, readdirSync } from "node:fs";
import path from "node:path";
import { test } from "node:test";
import { judgement } from "./judgement.mjs";

const root = path.resolve(import.meta.dirname ?? path.dirname(new URL(import.meta.url).pathname), "../..");
const native = process.env.REWOUND_BIN;
const reference = "reference/learnt/circulator-40.reference.toml";
const RELATIVE = 1e-6;
const ABSOLUTE = 1e-9; // of what is nothing but rounding, such as a probability of 1e-12

// Terms of coasting that lie nearly in one line are parted to fewer digits.
const NEARLY_DEPENDENT = /\/numbers\/(linear|quadratic|constant)$/;
const NEARLY_DEPENDENT_RELATIVE = 1e-4;

const records = readdirSync(path.join(root, "reference/records"), { recursive: true })
  .filter((name) => name.endsWith(".toml"))
  .map((name) => path.join("reference/records", name))
  .sort();

function near(one, other, place) {
  const size = Math.max(Math.abs(one), Math.abs(other));
  const relative = NEARLY_DEPENDENT.test(place) ? NEARLY_DEPENDENT_RELATIVE : RELATIVE;
  return Math.abs(one - other) <= relative * size + ABSOLUTE;
}

/** What differs between two values of a result, each with the place where it does. */
export function differences(one, other, place = "") {
  if (typeof one === "number" && typeof other === "number") return near(one, other, place) ? [] : [`${place}: ${one} is not ${other}`];
  if (one === null || other === null || typeof one !== "object" || typeof other !== "object")
    return one === other ? [] : [`${place}: ${JSON.stringify(one)} is not ${JSON.stringify(other)}`];
  const keys = new Set([...Object.keys(one), ...Object.keys(other)]);
  return [...keys].flatMap((key) => differences(one[key], other[key], `${place}/${key}`));
}

function judged_natively(record, options, format) {
  const done = spawnSync(native, ["judge", record, ...options, "--format", format], { cwd: root, encoding: "utf8" });
  return { code: done.status, out: done.stdout, trouble: done.stderr };
}

test("a number that differs by more than 1e-6 is found", () => {
  assert.equal(differences({ a: [1, 1 + 1e-5] }, { a: [1, 1] }).length, 1);
  assert.equal(differences({ a: "b" }, { a: "c" }).length, 1);
  assert.equal(differences({ a: 1, b: 2 }, { a: 1 }).length, 1);
  assert.deepEqual(differences({ a: 1 + 1e-8 }, { a: 1 }), []);
});

const ask = await judgement();
let judged = 0, refused = 0;

for (const beside of [[], ["--reference", reference]])
  for (const record of records)
    test(`${record} ${beside.length ? "beside good machines" : "alone"}`, () => {
      const there = judged_natively(record, beside, "json");
      const here = ask({
        ask: "files",
        name: record,
        record: readFileSync(path.join(root, record), "utf8"),
        reference: beside.length ? readFileSync(path.join(root, reference), "utf8") : "",
      });
      if (there.code === 65) {
        const lines = there.trouble.trimEnd().split("\n").map((line) => line.replace(/^rewound: /, ""));
        assert.deepEqual(here.trouble, lines);
        ++refused;
        return;
      }
      assert.ok([0, 10, 20].includes(there.code), there.trouble);
      assert.equal(here.trouble, undefined);
      assert.deepEqual(differences(JSON.parse(here.json), JSON.parse(there.out)), []);
      ++judged;
    });

test("there were records to compare", () => {
  assert.ok(judged >= 40 && refused >= 22, `${judged} judged, ${refused} refused`);
});
