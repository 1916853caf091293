// What is typed and the record that it makes: records go into fields and come out the same; what cannot be is left out
// and named; what is half typed is waited for.
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import path from "node:path";
import { test } from "node:test";
import { fileURLToPath } from "node:url";
import { judgement } from "./judgement.mjs";

const root = path.join(path.dirname(fileURLToPath(import.meta.url)), "../..");
const ask = await judgement();
const text_of = (name) => readFileSync(path.join(root, name), "utf8");
const ORDINARY = "reference/records/ordinary/gh52_wall_fan.toml";

const records = ["reference/records", "tests/golden"]
  .flatMap((folder) => readdirSync(path.join(root, folder), { recursive: true }).map((name) => path.join(folder, name)))
  .filter((name) => name.endsWith(".toml") && !name.includes("/bad/"));

const typed_of = (name) => ask({ ask: "read", text: text_of(name), name }).typed;
const ordinary = () => typed_of(ORDINARY);
const judged = (typed) => ask({ ask: "judge", typed });

for (const name of records)
  test(`${name} goes into the fields and comes out the same`, () => {
    const typed = typed_of(name);
    assert.ok(typed, name);
    const written = ask({ ask: "write", typed });
    assert.equal(written.trouble, undefined);
    const { json } = ask({ ask: "files", name, record: text_of(name) });
    assert.equal(ask({ ask: "files", name, record: written.toml }).json, json);
    const answer = judged(typed);
    assert.deepEqual(answer.problems, []);
    assert.deepEqual(answer.unfinished, []);
    assert.deepEqual(answer.result, JSON.parse(json));
  });

test("there were records", () => assert.ok(records.length >= 25, `${records.length}`));

test("a decimal comma is a decimal point", () => {
  const typed = ordinary();
  const before = judged(typed).result;
  typed.run_up[0].rows[0].current_A = typed.run_up[0].rows[0].current_A.replace(".", ",");
  typed.resistance[0].resistance_ohm = "18,4";
  typed.earth.continuity_ohm = ",08";
  assert.deepEqual(judged(typed).result, before);
});

test("what every record needs is asked for by name", () => {
  const answer = judged({ machine: { phases: "1", speeds: ["full"], speed_control: "none", running_circuit: "unknown" }, visit: { date: "2026-05-01", state: "as_found" } });
  assert.equal(answer.whole, false);
  assert.deepEqual(answer.missing.map(({ key }) => key), ["id", "rated_voltage_V", "rated_frequency_Hz"]);
});

test("half a reading is waited for, and no other is lost by it", () => {
  const typed = ordinary();
  const before = judged(typed).result;
  typed.run_up[1].rows.push({ voltage_V: "100" });
  typed.insulation.push({ circuit: "cord", test_voltage_V: "500" });
  const answer = judged(typed);
  assert.deepEqual(answer.problems, []);
  assert.deepEqual(answer.result, before);
});

test("a table that was begun says what it still needs", () => {
  const typed = ordinary();
  delete typed.resistance[0].winding_C;
  const answer = judged(typed);
  assert.deepEqual(answer.unfinished, [{ section: "resistance", entry: 0, row: -1, key: "winding_C" }]);
  assert.equal(answer.view.decision, "undecided");
});

test("a value that cannot be is left out and named where it stands", () => {
  const cases = [
    [(typed) => (typed.run_up[1].rows[0].current_A = "-0.3"), { section: "run_up", entry: 1, row: 0, key: "current_A" }],
    [(typed) => (typed.run_up[2].rows[1].voltage_V = "lots"), { section: "run_up", entry: 2, row: 1, key: "voltage_V" }],
    [(typed) => (typed.machine.wound_year = "26"), { section: "machine", entry: -1, row: -1, key: "wound_year" }],
    [(typed) => (typed.resistance[0].resistance_ohm = "0"), { section: "resistance", entry: 0, row: -1, key: "resistance_ohm" }],
    [(typed) => (typed.starts[0].successes = "2.5"), { section: "starts", entry: 0, row: -1, key: "successes" }],
    [(typed) => (typed.earth.continuity_ohm = "1 2"), { section: "earth", entry: -1, row: -1, key: "continuity_ohm" }],
    [(typed) => (typed.insulation[0].rows[0].resistance_Mohm = "wet"), { section: "insulation", entry: 0, row: 0, key: "resistance_Mohm" }],
    [(typed) => (typed.instruments = { ammeter: { reading_percent: "900", digits: "1", resolution: "0.01" } }), { section: "instruments.ammeter", entry: -1, row: -1, key: "reading_percent" }],
  ];
  for (const [spoil, place] of cases) {
    const typed = ordinary();
    spoil(typed);
    const answer = judged(typed);
    assert.equal(answer.trouble, undefined);
    assert.equal(answer.whole, true, JSON.stringify(place));
    const { read, allowed, ...where } = answer.problems[0];
    assert.deepEqual(where, place);
    assert.ok(allowed, JSON.stringify(answer.problems));
    assert.equal(answer.problems.length, 1, JSON.stringify(answer.problems));
  }
});

test("a plate that cannot be is said to be so", () => {
  const typed = ordinary();
  typed.machine.rated_voltage_V = "volts";
  const answer = judged(typed);
  assert.equal(answer.whole, false);
  assert.equal(answer.problems[0].key, "rated_voltage_V");
});

test("a reading beyond the meter's range is taken as one", () => {
  const typed = ordinary();
  typed.insulation[0].rows = [{ time_s: "60", resistance_Mohm: ">2000" }];
  const answer = judged(typed);
  assert.deepEqual(answer.problems, []);
  assert.equal(answer.view.decision, "release");
});

test("whatever stands in the fields, there is an answer", () => {
  const strange = ["", " ", "x", "1e999", "-", "\u0000", "９", "1,2,3", "true", "[]", "null", "2026-13-45", "<b>"];
  const leaves = (at) => Object.entries(at).flatMap(([key, value]) => (typeof value === "object" && value !== null ? leaves(value) : [[at, key]]));
  const whole = ordinary();
  for (const word of strange)
    for (let i = 0; i < leaves(whole).length; i += 3) {
      const typed = ordinary();
      const [at, key] = leaves(typed)[i];
      at[key] = word;
      const answer = judged(typed);
      assert.equal(answer.trouble, undefined, `${key} = ${JSON.stringify(word)}: ${answer.trouble}`);
      if (answer.whole) assert.ok(["release", "hold", "undecided"].includes(answer.view.decision));
    }
});

test("a question that is none is refused", () => {
  assert.ok(ask({ ask: "nothing of the kind" }).trouble[0].includes("a question of this page"));
  assert.ok(ask({ ask: "read", text: "", name: "a.toml" }).trouble.length);
});

test("the machine is let under power by insulation alone", () => {
  const typed = ordinary();
  assert.equal(judged(typed).energise.permission, "granted");
  typed.insulation[0].rows[0].resistance_Mohm = "0.1";
  assert.equal(judged(typed).energise.permission, "refused");
  delete typed.insulation;
  assert.equal(judged(typed).energise.permission, "refused");
});
