// What was typed, under the record's own keys: {"machine": {"rated_voltage_V": "230"}, "run_up": [{"speed": "high",
// "rows": [{...}]}]}. Places are {section, entry, row, key, line}; entry and row are -1 where there is none.

export const place = (section, key, entry = -1, row = -1, line = -1) => ({ section, entry, row, key, line });

export const name_of = ({ section, entry, row, key }) => `${section}|${entry}|${row}|${key}`;

function table_at(typed, { section, entry, row }, make) {
  let at = typed;
  const [first, meter] = section.split(".");
  const step = (name, fresh) => {
    if (at === undefined || at === null) return;
    if (at[name] === undefined || at[name] === null) {
      if (!make) {
        at = undefined;
        return;
      }
      at[name] = fresh;
    }
    at = at[name];
  };
  step(first, entry >= 0 ? [] : {});
  if (meter) step(meter, {});
  if (entry >= 0) {
    while (make && at.length < entry) at.push({});
    step(entry, {});
  }
  if (row >= 0) {
    step("rows", []);
    while (make && at.length < row) at.push({});
    step(row, {});
  }
  return at;
}

export function value_at(typed, at) {
  const value = table_at(typed, at, false)?.[at.key];
  if (at.line >= 0) return Array.isArray(value) ? value[at.line] ?? "" : "";
  return value ?? "";
}

export function set_at(typed, at, value) {
  const table = table_at(typed, at, true);
  if (at.line >= 0) {
    const lines = Array.isArray(table[at.key]) ? table[at.key] : ["", "", ""];
    lines[at.line] = value;
    table[at.key] = lines;
  } else if (value === "" || (Array.isArray(value) && value.length === 0)) delete table[at.key];
  else table[at.key] = value;
}

export const list_at = (typed, section) => (Array.isArray(typed[section]) ? typed[section] : []);

/** The typed volts of a speed, or nothing: for a row's question. */
export const speeds_of = (typed) => (typed.machine?.speeds ?? []).map((name) => String(name).trim()).filter(Boolean);

/** The run-up of a speed; made where there is none. */
export function run_of(typed, speed) {
  typed.run_up ??= [];
  const there = typed.run_up.findIndex((run) => run?.speed === speed && !String(run.leads ?? "").startsWith("rolled"));
  if (there >= 0) return there;
  typed.run_up.push({ speed, rows: [] });
  return typed.run_up.length - 1;
}

/** Other names of the speeds: readings go with them by their place in the list. */
export function rename_speeds(typed, names) {
  const before = speeds_of(typed);
  typed.machine ??= {};
  typed.machine.speeds = names;
  for (const run of typed.run_up ?? []) {
    const at = before.indexOf(run.speed);
    if (at >= 0 && at < names.length) run.speed = names[at];
  }
  typed.run_up = (typed.run_up ?? []).filter((run) => names.includes(run.speed) || (run.rows ?? []).length > 0);
  for (const start of typed.starts ?? []) {
    const at = before.indexOf(start.speed);
    if (at >= 0 && at < names.length) start.speed = names[at];
  }
}

const today = () => {
  const now = new Date();
  return `${now.getFullYear()}-${String(now.getMonth() + 1).padStart(2, "0")}-${String(now.getDate()).padStart(2, "0")}`;
};

/** A machine of which nothing is known yet, but what every record says and most machines are. */
export const fresh = () => ({
  machine: { phases: "1", speeds: ["high", "medium", "low"], speed_control: "unknown", running_circuit: "unknown" },
  visit: { date: today(), state: "after_repair" },
});

/** A number as it was typed, with a point or a comma. */
export const number_in = (text) => {
  const value = Number(String(text).trim().replace(",", "."));
  return String(text).trim() === "" || !Number.isFinite(value) ? null : value;
};

const text_of = (value) => (typeof value === "string" ? value : typeof value === "number" || typeof value === "boolean" ? String(value) : "");

/** One table of what was typed, with nothing in it but texts under known keys. */
function cleaned_table(table, keys) {
  const out = {};
  if (typeof table !== "object" || table === null || Array.isArray(table)) return out;
  for (const key of keys) {
    if (!Object.hasOwn(table, key.name)) continue;
    const value = table[key.name];
    if (key.kind === "texts") out[key.name] = [value].flat().map(text_of).filter(Boolean);
    else if (key.by_line && Array.isArray(value)) out[key.name] = [0, 1, 2].map((line) => text_of(value[line]));
    else out[key.name] = text_of(value);
  }
  if (Array.isArray(table.rows)) out.rows = table.rows.map((row) => cleaned_table(row, keys.filter((key) => key.of_row)));
  return out;
}

/** What a file says was typed, as this page keeps it: whatever else stands in it is left out. */
export function cleaned(typed, list) {
  const out = {};
  for (const [section, { keys, list: several }] of Object.entries(list.sections)) {
    const there = typed[section];
    if (several) {
      if (Array.isArray(there)) out[section] = there.map((table) => cleaned_table(table, keys));
    } else if (section.startsWith("instruments.")) {
      for (const meter of list.instruments)
        if (typed.instruments?.[meter]) (out.instruments ??= {})[meter] = cleaned_table(typed.instruments[meter], keys);
    } else if (section === "checks") {
      const flags = Object.entries(there ?? {}).filter(([name, value]) => /^\w+$/.test(name) && name !== "__proto__" && /^(true|false)$/.test(value));
      if (flags.length) out.checks = Object.fromEntries(flags);
    } else if (there) out[section] = cleaned_table(there, keys);
  }
  const usual = fresh();
  return { ...out, machine: { ...usual.machine, ...out.machine }, visit: { ...usual.visit, ...out.visit } };
}
