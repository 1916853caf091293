// The screens of a visit, in the order in which a careful person works.
import { fill, h, picture, unique } from "./element.mjs";
import { list_at, number_in, place, rename_speeds, run_of, speeds_of, value_at } from "./typed.mjs";
import { choice_of, label_of, say, words } from "./words.mjs";

export const STEPS = ["plate", "job", "cold", "insulation", "power", "starts", "others", "notes", "report"];

const UNDER_POWER = new Set(["power", "starts", "others"]);

/** Which meter a section or a key takes; what is not here takes none. */
const METER = {
  resistance: "ohmmeter",
  earth: "ohmmeter",
  insulation: "insulation_tester",
  capacitor: "capacitance_meter",
  leakage: "leakage_meter",
  withstand: "withstand_tester",
  coast_down: "tachometer",
};

export class Steps {
  constructor(page) {
    this.page = page;
    this.live = []; // what is renewed with every judgement
  }

  get typed() {
    return this.page.machine.typed;
  }
  get fields() {
    return this.page.fields;
  }

  has(what) {
    return this.page.answer?.has?.[what] ?? true;
  }

  /** Shows a step; its parts that follow the judgement are renewed by refresh(). */
  show(step, into) {
    this.live = [];
    this.fields.clear();
    const title = h("h2", { id: "step-title", tabindex: "-1" }, say(`step.${step}`));
    fill(into, title, h("p", { class: "intro" }, say(`intro.${step}`)), this[step]());
    this.refresh();
  }

  refresh() {
    for (const renew of this.live) renew();
  }

  /** Something that is made anew from each judgement, as long as nothing in it is typed into. */
  follow(make) {
    const holder = h("div", {});
    let before = null;
    this.live.push(() => {
      const { key, parts } = make();
      if (key === before) return;
      before = key;
      fill(holder, parts);
    });
    return holder;
  }

  more(children, title = say("page.more")) {
    return h("details", { class: "more" }, h("summary", {}, title), children);
  }

  group(title, ...children) {
    return h("section", { class: "group" }, h("h3", {}, title), children);
  }

  // ---- plate and job ---------------------------------------------------------------------------------------------

  plate() {
    const field = (name, more) => this.fields.field(place("machine", name), more);
    const shown = ["id", "description", "model", "rated_voltage_V", "rated_frequency_Hz", "rated_current_A", "rated_power_W"];
    const special = ["phases", "speeds", "speed_control", "running_circuit", "appliance_class", "wound_year", "frame_earthed"];
    const rest = this.fields.keys("machine").filter(({ name }) => ![...shown, ...special].includes(name));
    return [
      this.group(say("group.name"), field("id"), field("description"), field("model")),
      this.group(say("group.plate"), h("div", { class: "side" }, shown.slice(3).map((name) => field(name)))),
      this.group(
        say("group.motor"),
        this.speeds(),
        h("div", {}, this.follow(() => ({ key: speeds_of(this.typed).length > 1, parts: speeds_of(this.typed).length > 1 ? field("speed_control") : null }))),
        field("running_circuit", {
          chosen: (value) => {
            const phases = value === "three_phase" ? "3" : "1";
            if (this.typed.machine.phases !== phases) this.fields.take(place("machine", "phases"), phases);
          },
        }),
        field("appliance_class", {
          chosen: (value) => this.fields.take(place("machine", "frame_earthed"), value === "I" ? "true" : ["0", "II"].includes(value) ? "false" : ""),
        }),
      ),
      this.more(h("div", { class: "side" }, rest.map(({ name }) => field(name)), this.meters())),
    ];
  }

  speeds() {
    const sets = [
      [say("speeds.three"), ["high", "medium", "low"]],
      [say("speeds.two"), ["high", "low"]],
      [say("speeds.one"), [say("speeds.only")]],
    ];
    const at = place("machine", "speeds");
    const now = () => speeds_of(this.typed).join(" ");
    const own = h("input", {
      type: "text",
      "aria-label": say("speeds.own"),
      autocapitalize: "off",
      autocomplete: "off",
      placeholder: say("speeds.own_hint"),
      "data-key": "machine.speeds",
      value: sets.some(([, names]) => names.join(" ") === now()) ? "" : now(),
      // Letter by letter from what there was before, so that half a list of names parts no readings from their speed.
      onfocus: () => {
        before = JSON.stringify({ machine: { speeds: speeds_of(this.typed) }, run_up: this.typed.run_up, starts: this.typed.starts });
      },
      oninput: (event) => {
        const { run_up, starts, machine } = JSON.parse(before);
        Object.assign(this.typed.machine, machine);
        if (run_up) this.typed.run_up = run_up;
        if (starts) this.typed.starts = starts;
        const names = event.target.value.split(/[\s,]+/).filter(Boolean);
        choose(names.length ? [...new Set(names)] : machine.speeds);
      },
    });
    let before = "";
    const choose = (names) => {
      rename_speeds(this.typed, names);
      if (names.length === 1) this.typed.machine.speed_control = "none";
      else if (this.typed.machine.speed_control === "none") this.typed.machine.speed_control = "unknown";
      this.page.changed(at);
      this.refresh();
    };
    const group = unique("speeds");
    const key = this.fields.key("machine", "speeds");
    return h(
      "fieldset",
      { class: "choices" },
      h("legend", {}, label_of("machine", key)),
      h(
        "div",
        { class: "buttons" },
        sets.map(([name, names]) =>
          h(
            "label",
            { class: "choice" },
            h("input", { type: "radio", name: group, "data-key": "machine.speeds", value: names.join(" "), checked: now() === names.join(" "), onchange: () => choose(names) }),
            h("span", { class: "choice-name" }, name),
          ),
        ),
        h("div", { class: "choice own" }, h("span", { class: "choice-name", "aria-hidden": "true" }, say("speeds.own")), own),
      ),
      this.fields.note(at),
    );
  }

  meters() {
    return this.more(
      this.page.list.instruments.map((meter) =>
        this.more(
          h("div", { class: "side" }, ["name", "reading_percent", "digits", "resolution", "full_scale"].map((name) => this.fields.field(place(`instruments.${meter}`, name)))),
          choice_of("have", meter)[0],
        ),
      ),
      say("section.instruments"),
    );
  }

  job() {
    const field = (name, more) => this.fields.field(place("visit", name), more);
    const shown = ["date", "state", "work", "ambient_C", "supply_voltage_V", "supply_frequency_Hz", "notes", "have"];
    const rest = this.fields.keys("visit").filter(({ name }) => !shown.includes(name));
    return [
      this.group(say("step.job"), field("state"), field("work", { rows: 2 }), h("div", { class: "side" }, field("date"), this.fields.field(place("machine", "wound_year")))),
      this.group(
        say("group.mains"),
        h("div", { class: "side" }, field("supply_voltage_V"), field("supply_frequency_Hz"), field("ambient_C")),
      ),
      this.fields.several(place("visit", "have"), this.page.list.equipment, { chosen: () => this.page.judge() }),
      this.more(h("div", { class: "side" }, rest.map(({ name }) => field(name)))),
    ];
  }

  // ---- tables of which there may be several ------------------------------------------------------------------------

  /**
   * All entries of a section, and a button for one more.
   *
   * @param usual  what a fresh entry begins with
   */
  entries(section, ordinary, usual, extra = () => null) {
    const holder = h("div", {});
    const facts = this.page.list.sections[section];
    const make = () => {
      const count = facts.list ? Math.max(list_at(this.typed, section).length, ordinary.always ? 1 : 0) : this.typed[section] || ordinary.always ? 1 : 0;
      const parts = [];
      for (let i = 0; i < count; ++i) parts.push(this.entry(section, facts.list ? i : -1, ordinary.keys, extra, make, count));
      if (facts.list || count === 0)
        parts.push(
          h(
            "button",
            {
              type: "button",
              class: "quiet",
              "data-add": section,
              onclick: () => {
                if (facts.list) this.typed[section] = [...list_at(this.typed, section), { ...usual(list_at(this.typed, section).length) }];
                else this.typed[section] = { ...usual(0) };
                this.page.changed(place(section, ""));
                make();
                holder.querySelectorAll("section")[facts.list ? list_at(this.typed, section).length - 1 : 0]?.querySelector("input, textarea")?.focus();
              },
            },
            say(count ? "add.another" : "add.entry", { section: say(`section.${section}`) }),
          ),
        );
      fill(holder, parts);
    };
    if (ordinary.always && facts.list && list_at(this.typed, section).length === 0) this.typed[section] = [{ ...usual(0) }];
    make();
    return holder;
  }

  entry(section, entry, ordinary, extra, again, count) {
    const keys = this.fields.keys(section).filter((key) => !key.of_row);
    const at = (name) => place(section, name, entry);
    const first = ordinary.map((name) => this.fields.field(at(name)));
    const rest = keys.filter(({ name }) => !ordinary.includes(name));
    const there = () => (entry < 0 ? this.typed[section] : list_at(this.typed, section)[entry]);
    return h(
      "section",
      { class: "group entry-group", "aria-label": `${say(`section.${section}`)} ${count > 1 ? entry + 1 : ""}`.trim() },
      h(
        "div",
        { class: "entry-head" },
        h("h3", {}, say(`section.${section}`), count > 1 ? ` ${entry + 1}` : ""),
        there() && Object.keys(there()).length
          ? h(
              "button",
              {
                type: "button",
                class: "quiet small",
                onclick: () => {
                  this.page.with_undo(`${say(`section.${section}`)}${count > 1 ? ` ${entry + 1}` : ""}`, () => {
                    if (entry < 0) delete this.typed[section];
                    else this.typed[section].splice(entry, 1);
                  });
                  again();
                },
              },
              say("add.remove"),
            )
          : null,
      ),
      h("div", { class: "side" }, first),
      extra(entry),
      rest.length ? this.more(h("div", { class: "side" }, rest.map(({ name }) => this.fields.field(at(name))))) : null,
    );
  }

  /** A section for which a meter is needed that the person has said not to have is folded away. */
  if_at_hand(section, content) {
    const meter = METER[section];
    if (!meter || this.has(meter)) return content;
    return this.more(content, say(`section.${section}`));
  }

  // ---- cold ----------------------------------------------------------------------------------------------------------

  cold() {
    const air = () => value_at(this.typed, place("visit", "ambient_C"));
    const earthed = !["0", "II", "III"].includes(this.typed.machine?.appliance_class);
    return [
      this.if_at_hand(
        "resistance",
        this.entries("resistance", { keys: ["section", "resistance_ohm", "winding_C", "expected_ohm"], always: true }, (n) => ({
          ...(n === 0 ? { section: say("resistance.usual") } : {}),
          ...(air() ? { winding_C: air() } : {}),
        })),
      ),
      earthed ? this.if_at_hand("earth", this.entries("earth", { keys: ["continuity_ohm"], always: true }, () => ({}))) : null,
      ["permanent_capacitor", "start_winding_switched"].includes(this.typed.machine?.running_circuit) || this.typed.capacitor
        ? this.if_at_hand(
            "capacitor",
            this.entries("capacitor", { keys: ["kind", "marked_uF", "measured_uF"] }, () => ({ name: "run", kind: "run" })),
          )
        : null,
    ];
  }

  insulation() {
    const air = () => value_at(this.typed, place("visit", "ambient_C"));
    const rows = (entry) => this.rows("insulation", entry, ["time_s", "resistance_Mohm"], {
      name: (n) => `${say("section.insulation")} ${entry + 1}, ${n}`,
      placeholder: (n) => ({ time_s: n === 0 ? say("insulation.minute") : "" }),
      // The reading after one minute is what is asked for: its time need not be typed.
      typed: (n, key, row) => {
        if (n === 0 && key === "resistance_Mohm" && !row.time_s) row.time_s = say("insulation.minute");
      },
    });
    return this.if_at_hand(
      "insulation",
      this.entries("insulation", { keys: ["circuit", "test_voltage_V", "winding_C"], always: true }, (n) => ({
        ...(n === 0 ? { circuit: say("insulation.usual"), test_voltage_V: "500" } : {}),
        ...(air() ? { winding_C: air() } : {}),
      }), rows),
    );
  }

  /** Readings side by side, and an empty row for the next one. */
  rows(section, entry, keys, how) {
    const holder = h("div", { class: "rows" });
    const shown = () => list_at(this.typed[section]?.[entry] ?? {}, "rows");
    const line = (n) => {
      const cells = [];
      const row_note = this.fields.note(place(section, "", entry, n));
      for (const name of keys) {
        const key = this.fields.key(section, name);
        const lines = key.by_line && this.typed.machine?.phases === "3" ? [0, 1, 2] : [-1];
        for (const at_line of lines) {
          const what = label_of(section, key) + (at_line >= 0 ? ` ${say("reading.line", { n: at_line + 1 })}` : "");
          cells.push(
            this.fields.cell(place(section, name, entry, n, at_line), `${how.name(n + 1)}, ${what}`, {
              note: row_note,
              placeholder: how.placeholder?.(n)[name],
              typed: () => {
                const row = this.typed[section][entry].rows[n];
                const before = JSON.stringify(row);
                how.typed?.(n, name, row);
                if (JSON.stringify(row) !== before) {
                  for (const cell of element.querySelectorAll("input")) {
                    const name_of_cell = cell.dataset.key.split(".")[1];
                    if (name_of_cell !== name && row[name_of_cell] !== undefined && !Array.isArray(row[name_of_cell])) cell.value = row[name_of_cell];
                  }
                  this.page.changed(place(section, name, entry, n));
                }
                if (n === holder.childElementCount - 1) holder.append(line(n + 1));
              },
            }),
          );
        }
      }
      for (const name of keys) this.fields.notes.set(`${section}|${entry}|${n}|${name}`, row_note);
      const remove = h(
        "button",
        {
          type: "button",
          class: "quiet small remove",
          "aria-label": `${say("add.remove")}: ${how.name(n + 1)}`,
          onclick: () => {
            if (n >= shown().length) return;
            this.page.with_undo(how.name(n + 1), () => shown().splice(n, 1));
            draw();
          },
        },
        "×",
      );
      const element = h("div", { class: "row" }, h("div", { class: "cells" }, cells, remove), how.below?.(n), row_note);
      return element;
    };
    const draw = () => fill(holder, Array.from({ length: shown().length + 1 }, (_, n) => line(n)));
    draw();
    return holder;
  }

  // ---- under power ---------------------------------------------------------------------------------------------------

  /** What is under power is shown once the cold tests allow it, or where readings are there already. */
  gated(step, content, taken) {
    const holder = h("div", {});
    let opened = taken();
    const gate = this.follow(() => {
      const may = this.page.answer?.energise ?? { permission: "refused", why: say("decision.waiting") };
      const accepted = this.page.machine.accepted === may.why && may.permission === "ask";
      const allowed = may.permission === "granted" || accepted;
      const key = `${may.permission} ${may.why} ${accepted}`;
      if (allowed || opened) {
        if (!holder.childElementCount) fill(holder, content());
      } else fill(holder);
      if (allowed) return { key, parts: h("p", { class: "warning" }, say("gate.warning")) };
      const ask = may.permission === "ask";
      return {
        key: `${key} ${opened}`,
        parts: h(
          "div",
          { class: "gate", role: "group", "aria-label": say(ask ? "gate.ask" : "gate.refused") },
          h("h3", {}, say(ask ? "gate.ask" : "gate.refused")),
          h("p", {}, may.why),
          h(
            "div",
            { class: "actions" },
            h("button", { type: "button", onclick: () => this.page.go("insulation") }, say("gate.go_to")),
            ask
              ? h("button", { type: "button", class: "quiet", onclick: () => {
                  this.page.machine.accepted = may.why;
                  this.page.changed(null);
                  this.refresh();
                } }, say("gate.go_on"))
              : null,
            opened
              ? null
              : h("button", { type: "button", class: "quiet", "data-open": step, onclick: () => {
                  opened = true;
                  this.refresh();
                } }, say("gate.readings_anyway")),
          ),
        ),
      };
    });
    return [gate, holder];
  }

  power() {
    const taken = () => (this.typed.run_up ?? []).some((run) => (run?.rows ?? []).length > 0);
    return this.gated("power", () => this.run_ups(), taken);
  }

  run_ups() {
    const more = this.page.machine.more_columns ?? (this.typed.run_up ?? []).some((run) => (run?.rows ?? []).some((row) => row.power_W || row.speed_rpm));
    const columns = ["voltage_V", "current_A", ...(more && this.has("wattmeter") ? ["power_W"] : []), ...(more && this.has("tachometer") ? ["speed_rpm"] : [])];
    const holder = h("div", {});
    const choice = h(
      "label",
      { class: "choice inline" },
      h("input", {
        type: "checkbox",
        checked: more,
        onchange: (event) => {
          this.page.machine.more_columns = event.target.checked;
          this.page.changed(null);
          this.page.show();
        },
      }),
      h("span", { class: "choice-name" }, say("reading.watts")),
    );
    fill(
      holder,
      speeds_of(this.typed).map((speed) => this.run_up(speed, columns)),
      this.has("wattmeter") || this.has("tachometer") ? choice : null,
    );
    return holder;
  }

  run_up(speed, columns) {
    const entry = run_of(this.typed, speed);
    const answer = () => this.page.answer?.run_up?.find((run) => run.entry === entry);
    const voltages = this.page.answer?.voltages ?? [];
    const below = (n) =>
      this.follow(() => {
        const found = answer();
        const at = found?.places.indexOf(n) ?? -1;
        const expected = at >= 0 ? found.rows[at] : null;
        const suspect = at >= 0 ? this.suspect(speed, at, entry, n) : null;
        const parts = [];
        if (expected?.expected_A)
          parts.push(h("p", { class: "expected" }, say("reading.expected", { value: expected.expected_A, low: expected.low_A, high: expected.high_A })));
        if (expected?.stop) parts.push(h("p", { class: "stop", role: "alert" }, expected.stop));
        if (suspect) parts.push(suspect.element);
        return { key: JSON.stringify([expected, suspect?.key]), parts };
      });
    const chart = this.follow(() => {
      const svg = this.page.answer?.pictures?.find((one) => one.speed === speed)?.svg;
      return {
        key: svg ?? "",
        parts: svg ? h("div", { class: "chart", role: "img", "aria-label": say("reading.chart", { speed }) }, picture(svg)) : h("p", { class: "hint" }, say("reading.empty_chart")),
      };
    });
    return h(
      "section",
      { class: "group", "aria-label": say("reading.speed", { speed }), "data-speed": speed },
      h("h3", {}, say("reading.speed", { speed })),
      h(
        "div",
        { class: "beside" },
        this.rows("run_up", entry, columns, {
          name: (n) => `${speed}, ${n}`,
          placeholder: (n) => ({ voltage_V: voltages[n] !== undefined ? String(voltages[n]) : "" }),
          below,
        }),
        chart,
      ),
    );
  }

  /** The question about a reading that does not fit the others. */
  suspect(speed, index, entry, row) {
    const found = this.page.answer?.result?.suspect_readings?.find((one) => one.speed === speed && one.index === index);
    if (!found) return null;
    const read = this.typed.run_up[entry].rows[row];
    const mark = `${speed} ${read?.voltage_V} ${JSON.stringify(read?.current_A)}`;
    const kept = Boolean(this.page.machine.kept[mark]);
    const filling = { read: found.read, fit: round(found.would_fit), unit: found.quantity === "voltage" ? "V" : "A" };
    const text = [say(found.would_fit === null ? "reading.suspect" : "reading.suspect_fit", filling), words.reading.why[found.explanation]].filter(Boolean).join(" ");
    if (kept) return { key: `kept ${text}`, element: h("p", { class: "hint" }, `${text} ${say("reading.kept")}`) };
    const element = h(
      "div",
      { class: "question", role: "alert" },
      h("p", {}, `${text} ${say("reading.again")}`),
      h("button", { type: "button", class: "quiet", onclick: () => {
        this.page.machine.kept[mark] = true;
        this.page.changed(null);
        this.refresh();
      } }, say("reading.keep")),
    );
    return { key: text, element };
  }

  starts() {
    const speeds = speeds_of(this.typed);
    return this.gated(
      "starts",
      () =>
        this.entries("starts", { keys: ["position", "attempts", "successes"], always: true }, (n) => ({
          ...(n === 0 ? { position: say("starts.usual") } : {}),
          ...(speeds.length > 1 ? { speed: speeds.at(-1) } : {}),
        })),
      () => list_at(this.typed, "starts").some((one) => one?.attempts),
    );
  }

  others() {
    const usual = { leakage: { kind: "appliance" }, withstand: { kind: "ac", winding_state: "new", circuit: say("insulation.usual") } };
    const section = (name, keys) => this.if_at_hand(name, this.entries(name, { keys }, () => usual[name] ?? {}));
    const cold = [
      this.typed.machine?.running_circuit === "commutator" || this.typed.commutator ? section("commutator", ["brush_length_mm", "brush_shortest_mm"]) : null,
      section("cord", ["length_m", "conductor_mm2"]),
    ];
    const powered = () => [
      section("leakage", ["condition", "current_mA", "kind", "polarity", "switch"]),
      section("withstand", ["circuit", "voltage_V", "kind", "duration_s", "broke_down"]),
      this.rows_of_lists("coast_down", ["time_s", "speed_rpm"]),
      this.rows_of_lists("heat_run", ["cold_ohm", "cold_C", "ambient_C", "time_s", "resistance_ohm"]),
    ];
    const taken = () => ["leakage", "withstand", "coast_down", "heat_run"].some((name) => this.typed[name]);
    return [cold, this.gated("others", powered, taken)];
  }

  rows_of_lists(section, keys) {
    return this.if_at_hand(section, this.entries(section, { keys }, () => ({})));
  }

  notes() {
    return [this.fields.field(place("visit", "notes"), { rows: 5 }), this.page.attachments()];
  }

  report() {
    return this.page.report();
  }
}

const round = (value) => (typeof value === "number" ? Number(value.toPrecision(3)) : value);

export const is_under_power = (step) => UNDER_POWER.has(step);
export { number_in };
