// The page: which machine and which step are shown, what is kept, and what the judgement says of it.
import { decision_bar } from "./decision.mjs";
import { fill, h } from "./element.mjs";
import { Fields } from "./fields.mjs";
import { Judgement } from "./judgement.mjs";
import { attachments, machines_screen, report_screen, save_file } from "./screens.mjs";
import { STEPS, Steps } from "./steps.mjs";
import { Store } from "./store.mjs";
import { fresh, name_of } from "./typed.mjs";
import { say } from "./words.mjs";

class Page {
  constructor(list, judgement, store) {
    this.list = list;
    this.judgement = judgement;
    this.store = store;
    this.answer = null;
    this.screen = "plate";
    this.fields = new Fields(list, () => this.machine.typed, (at) => this.changed(at));
    this.steps = new Steps(this);
    this.main = document.getElementById("main");
    store.changed_elsewhere = () => {
      this.show();
      this.judge();
    };
  }

  get machine() {
    return this.store.machine;
  }

  /** Something was typed: it is in storage before anything else happens. */
  changed(at) {
    this.store.save();
    if (at) this.judge();
  }

  judge() {
    const machine = this.machine;
    document.body.dataset.judging = "yes";
    this.judgement.judge({ typed: machine.typed, reference: this.reference()?.toml ?? "" }, (answer, ms) => {
      if (machine.id !== this.machine?.id) return;
      performance.mark("judged");
      this.answer = answer;
      document.body.dataset.judgedMs = String(Math.round(ms));
      if (!this.judgement.pending) document.body.dataset.judging = "no";
      this.store.keep_decision(machine.id, answer.view?.decision ?? "");
      this.renew();
    });
  }

  reference() {
    const model = String(this.machine.typed.machine?.model ?? "").trim();
    return model ? this.store.references().find((one) => one.model === model) : undefined;
  }

  /** What follows the judgement, without touching the fields. */
  renew() {
    decision_bar(this);
    this.steps.refresh();
    this.mark_problems();
    this.navigation();
  }

  mark_problems() {
    for (const note of this.fields.notes.values()) {
      if (note.textContent) fill(note);
      note.hidden = true;
    }
    for (const place of this.answer?.unfinished ?? []) {
      const note = this.fields.notes.get(name_of(place));
      if (!note) continue;
      fill(note, say("unfinished"));
      note.hidden = false;
    }
    for (const problem of this.answer?.problems ?? []) {
      const note = this.fields.notes.get(name_of(problem)) ?? this.fields.notes.get(name_of({ ...problem, key: "" }));
      if (!note) continue;
      fill(note, [note.textContent, problem_text(problem)].filter(Boolean).join(" "));
      note.hidden = false;
    }
  }

  go(step) {
    this.screen = step;
    this.machine.step = step;
    this.store.save();
    this.show();
    scrollTo(0, 0);
    document.getElementById("step-title")?.focus({ preventScroll: true });
    document.querySelector("#steps [aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });
  }

  show() {
    if (this.screen === "machines") machines_screen(this, this.main);
    else this.steps.show(this.screen, this.main);
    if (this.screen !== "machines") this.main.append(this.onward());
    this.renew();
  }

  onward() {
    const at = STEPS.indexOf(this.screen);
    return h(
      "p",
      { class: "actions onward" },
      at > 0 ? h("button", { type: "button", class: "quiet", onclick: () => this.go(STEPS[at - 1]) }, say("page.back")) : null,
      at + 1 < STEPS.length
        ? h("button", { type: "button", "data-next": STEPS[at + 1], onclick: () => this.go(STEPS[at + 1]) }, say("page.next", { step: say(`step.${STEPS[at + 1]}`) }))
        : null,
    );
  }

  /** Made once and changed in place, so that no press is lost to a judgement that comes in meanwhile. */
  navigation() {
    const list = document.getElementById("steps");
    if (!list.childElementCount)
      fill(
        list,
        STEPS.map((step) =>
          h(
            "li",
            {},
            h(
              "button",
              { type: "button", "data-step": step, onclick: () => this.go(step) },
              h("span", { class: "tick", "aria-hidden": "true" }),
              say(`step.${step}`),
              h("span", { class: "unseen" }),
            ),
          ),
        ),
      );
    const done = recorded_steps(this.answer);
    for (const button of list.querySelectorAll("button")) {
      const { step } = button.dataset;
      if (step === this.screen) button.setAttribute("aria-current", "step");
      else button.removeAttribute("aria-current");
      button.querySelector(".tick").textContent = done.has(step) ? "✓" : "";
      button.querySelector(".unseen").textContent = done.has(step) ? ` (${say("page.done")})` : "";
    }
  }

  /** Does something that can be taken back for a while. */
  with_undo(what, change) {
    const before = JSON.stringify(this.machine.typed);
    const id = this.machine.id;
    change();
    this.changed(true);
    notice("undo", say("add.removed", { what }), say("add.undo"), () => {
      if (this.machine.id !== id) return;
      this.machine.typed = JSON.parse(before);
      this.changed(true);
      this.show();
    });
  }

  use(machine) {
    this.answer = null;
    this.screen = STEPS.includes(machine.step) ? machine.step : "plate";
    this.show();
    this.judge();
  }

  new_machine(typed = fresh(), more = {}) {
    this.store.create(typed, more);
    this.store.save();
    return this.machine;
  }

  attachments() {
    return attachments(this);
  }
  report() {
    return report_screen(this);
  }
  save_machine() {
    return save_file(this, [this.machine]);
  }
}

export function problem_text({ read, allowed, key }) {
  const path = read && read !== "nothing" ? "problem" : "problem_absent";
  return say(path, { read, allowed: allowed || key });
}

/** The steps of which everything that the plan asks for was read. */
function recorded_steps(answer) {
  const of = { earth: "cold", resistance: "cold", insulation: "insulation", starting: "starts" };
  const open = new Set(), seen = new Set();
  for (const { step, speed, recorded } of answer?.plan ?? []) {
    const screen = speed ? "power" : of[step] ?? "others";
    seen.add(screen);
    if (!recorded) open.add(screen);
  }
  const out = new Set([...seen].filter((step) => !open.has(step)));
  if (answer?.whole) out.add("plate");
  return out;
}

/** A line above everything: trouble with storage, what was done. One of each kind. */
export function notice(kind, text, button, act) {
  const holder = document.getElementById("notices");
  holder.querySelector(`[data-kind="${kind}"]`)?.remove();
  if (!text) return;
  const line = h(
    "div",
    { class: `notice ${kind}`, "data-kind": kind, role: kind === "full" || kind === "none" ? "alert" : "status" },
    h("p", {}, text),
    button
      ? h("button", { type: "button", class: "quiet", onclick: () => {
          if (kind !== "full" && kind !== "none") line.remove();
          act();
        } }, button)
      : null,
    h("button", { type: "button", class: "quiet small", "aria-label": say("page.close"), onclick: () => line.remove() }, "×"),
  );
  holder.append(line);
}

function fill_static() {
  document.title = say("page.title");
  for (const element of document.querySelectorAll("[data-say]")) element.textContent = say(element.dataset.say);
  for (const element of document.querySelectorAll("[data-say-label]")) element.setAttribute("aria-label", say(element.dataset.sayLabel));
}

async function begin() {
  fill_static();
  let page = null;
  const store = new Store((kind, detail) => {
    if (kind === "saved") return notice("full", "");
    const save = () => page?.save_machine();
    if (kind === "full" || kind === "none") notice(kind, say(`storage.${kind}`), say("storage.save"), save);
    else if (kind === "copy") {
      const typed = page.machine.typed;
      typed.machine ??= {};
      const name = say("storage.copied", { name: typed.machine.id || say("machines.unnamed") });
      typed.machine.id = name;
      notice("copy", say("storage.copy", { name }));
    } else notice(kind, say(`storage.${kind}`, { name: detail }));
  });
  const judgement = new Judgement();
  try {
    await judgement.ready;
  } catch (trouble) {
    notice("none", say("page.no_worker", { why: trouble.message }));
    return;
  }
  const list = await judgement.ask({ ask: "keys" });
  page = new Page(list, judgement, store);
  window.rewound_page = page; // for tests and the curious
  const last = store.last_opened();
  if (!last) store.create(fresh());
  document.getElementById("menu").addEventListener("click", () => {
    page.screen = "machines";
    page.show();
    document.getElementById("step-title")?.focus();
  });
  document.addEventListener("keydown", enter_goes_on);
  document.body.dataset.ready = "yes";
  document.getElementById("starting").hidden = true;
  page.use(store.machine);
}

/** Enter leads to the next field, as on a phone's keypad. */
function enter_goes_on(event) {
  if (event.key !== "Enter" || !(event.target instanceof HTMLInputElement) || event.isComposing) return;
  event.preventDefault();
  const all = [...document.querySelectorAll("#main input:not([type=radio]):not([type=checkbox]), #main textarea, #main .onward button[data-next]")].filter(
    (one) => one.offsetParent !== null,
  );
  all[all.indexOf(event.target) + 1]?.focus();
}

if ("serviceWorker" in navigator && location.protocol.startsWith("http")) navigator.serviceWorker.register("rewound-offline.js").catch(() => {});

begin();
