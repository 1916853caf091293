// Fields made from the list of keys: labels, units, kinds of entry and allowed words are those of the record.
import { h, unique } from "./element.mjs";
import { set_at, speeds_of, value_at, name_of } from "./typed.mjs";
import { choice_of, hint_of, label_of, say, unit_of } from "./words.mjs";

export class Fields {
  /**
   * @param list     the list of keys
   * @param typed    () => what was typed
   * @param changed  called when it changed
   */
  constructor(list, typed, changed) {
    this.list = list;
    this.typed = typed;
    this.changed = changed;
    this.notes = new Map(); // of the screen that is shown, by place
  }

  clear() {
    this.notes.clear();
  }

  keys(section) {
    return this.list.sections[section.startsWith("instruments.") ? "instruments.voltmeter" : section]?.keys ?? [];
  }

  key(section, name) {
    return this.keys(section).find((key) => key.name === name);
  }

  /** Takes a value and tells the page. */
  take(at, value) {
    set_at(this.typed(), at, value);
    this.changed(at);
  }

  /** The place under a field where questions about it are shown. */
  note(at) {
    const note = h("p", { class: "question", id: unique("note"), hidden: true });
    const name = name_of(at);
    if (!this.notes.has(name)) this.notes.set(name, note);
    return note;
  }

  /** The field of a key, as its kind asks for. */
  field(at, more = {}) {
    const key = this.key(at.section, at.key);
    if (!key) throw new Error(`no key ${at.section}.${at.key}`);
    if (key.kind === "word") return this.choices(at, key, key.allowed.split(" "), more);
    if (key.kind === "flag") return this.choices(at, key, ["true", "false"], more);
    if (at.key === "phases") return this.choices(at, key, ["1", "3"], more);
    // A speed is one of the machine's own.
    if (["speed", "to_speed"].includes(at.key)) return this.choices(at, key, speeds_of(this.typed()), more);
    if (key.kind === "texts") return this.lines(at, key, more);
    return this.input(at, key, more);
  }

  describe(at, key, more) {
    const doc = more.hint ?? hint_of(at.section, key);
    const label = more.label ?? label_of(at.section, key);
    // What the label says already is not said twice.
    const parts = [label.toLowerCase().includes(doc.toLowerCase()) ? "" : doc];
    if (key.needed && key.kind !== "word") parts.push(say("page.needed"));
    return parts.filter(Boolean).join("; ");
  }

  input(at, key, more = {}) {
    const id = unique(`${at.section}-${at.key}`);
    const note = this.note(at);
    const hint = h("p", { class: "hint", id: `${id}-hint` }, this.describe(at, key, more));
    const number = key.kind === "number" || key.kind === "whole_number";
    const field = h("input", {
      id,
      type: key.kind === "date" ? "date" : "text",
      inputmode: key.kind === "whole_number" ? "numeric" : number ? "decimal" : undefined,
      autocomplete: "off",
      autocapitalize: "off",
      spellcheck: "false",
      enterkeyhint: "next",
      "data-key": `${at.section}.${at.key}`,
      "aria-describedby": `${id}-hint ${note.id}`,
      placeholder: more.placeholder,
      value: value_at(this.typed(), at),
      oninput: (event) => this.take(at, event.target.value),
    });
    const unit = unit_of(key.unit);
    return h(
      "div",
      { class: number ? "field number" : "field" },
      h("label", { for: id }, more.label ?? label_of(at.section, key), unit ? h("span", { class: "unit" }, ` in ${unit}`) : null),
      h("div", { class: "entry" }, field, unit ? h("span", { class: "behind", "aria-hidden": "true" }, unit) : null),
      hint,
      note,
    );
  }

  /** A bare field within a row of readings, named for those who do not see the row. */
  cell(at, name, more = {}) {
    const key = this.key(at.section, at.key);
    const unit = unit_of(key.unit);
    const field = h("input", {
      type: "text",
      inputmode: "decimal",
      autocomplete: "off",
      spellcheck: "false",
      enterkeyhint: "next",
      "data-key": `${at.section}.${at.key}`,
      "aria-label": `${name} (${unit})`,
      "aria-describedby": more.note?.id,
      placeholder: more.placeholder,
      value: value_at(this.typed(), at),
      oninput: (event) => {
        this.take(at, event.target.value);
        more.typed?.(event.target.value);
      },
    });
    return h("div", { class: "entry cell" }, field, h("span", { class: "behind", "aria-hidden": "true" }, unit));
  }

  /** Buttons, one of which is chosen; a key that need not be said has one for that. */
  choices(at, key, allowed, more = {}) {
    const group = unique(`${at.section}-${at.key}`);
    const chosen = value_at(this.typed(), at);
    const note = this.note(at);
    const word = (value) => {
      if (key.kind === "text") return [value, ""];
      if (key.kind === "flag") return [say(value === "true" ? "page.yes" : "page.no"), ""];
      return choice_of(at.key, value);
    };
    const button = (value, [name, sentence]) =>
      h(
        "label",
        { class: "choice" },
        h("input", {
          type: "radio",
          name: group,
          value,
          checked: chosen === value,
          "data-key": `${at.section}.${at.key}`,
          onchange: () => {
            this.take(at, value);
            more.chosen?.(value);
          },
        }),
        h("span", { class: "choice-name" }, name),
        sentence ? h("span", { class: "choice-sentence" }, sentence) : null,
      );
    // Where the class of insulation may be named in two ways, one of each is shown.
    const shown = at.key === "insulation_class" ? allowed.filter((value) => /^\d/.test(value)) : allowed;
    return h(
      "fieldset",
      { class: "choices" },
      h("legend", {}, more.label ?? label_of(at.section, key)),
      h("p", { class: "hint" }, this.describe(at, key, more)),
      h(
        "div",
        { class: "buttons" },
        shown.map((value) => button(value, word(value))),
        key.needed || more.must ? null : button("", [say("page.not_said"), ""]),
      ),
      note,
    );
  }

  /** Buttons, several of which may be chosen. */
  several(at, allowed, more = {}) {
    const key = this.key(at.section, at.key);
    const chosen = () => [value_at(this.typed(), at)].flat().filter(Boolean);
    return h(
      "fieldset",
      { class: "choices" },
      h("legend", {}, label_of(at.section, key)),
      h("p", { class: "hint" }, this.describe(at, key, more)),
      h(
        "div",
        { class: "buttons" },
        allowed.map((value) => {
          const [name, sentence] = choice_of(at.key, value);
          return h(
            "label",
            { class: "choice" },
            h("input", {
              type: "checkbox",
              value,
              checked: chosen().includes(value),
              "data-key": `${at.section}.${at.key}`,
              onchange: (event) => {
                const others = chosen().filter((one) => one !== value);
                this.take(at, event.target.checked ? [...others, value] : others);
                more.chosen?.();
              },
            }),
            h("span", { class: "choice-name" }, name),
            h("span", { class: "choice-sentence" }, sentence),
          );
        }),
      ),
      this.note(at),
    );
  }

  /** Texts, one a line. */
  lines(at, key, more = {}) {
    const id = unique(`${at.section}-${at.key}`);
    const note = this.note(at);
    return h(
      "div",
      { class: "field" },
      h("label", { for: id }, more.label ?? label_of(at.section, key)),
      h("textarea", {
        id,
        rows: more.rows ?? 3,
        "data-key": `${at.section}.${at.key}`,
        "aria-describedby": `${id}-hint ${note.id}`,
        value: [value_at(this.typed(), at)].flat().join("\n"),
        oninput: (event) => this.take(at, event.target.value.split("\n")),
      }),
      h("p", { class: "hint", id: `${id}-hint` }, this.describe(at, key, more)),
      note,
    );
  }
}
