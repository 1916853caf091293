// Machines, files, photos and the report.
import { fill, h, unique } from "./element.mjs";
import { notice } from "./main.mjs";
import { photos, scaled_down } from "./store.mjs";
import { cleaned } from "./typed.mjs";
import { say } from "./words.mjs";

const FORMAT = "rewound-page/1";

/** Hands a file over to the browser's own saving. */
export function save(name, text, type) {
  const address = URL.createObjectURL(new Blob([text], { type }));
  const link = h("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10000);
}

const file_name = (text) => String(text || "machine").replace(/[^\p{L}\p{N}._-]+/gu, "-").slice(0, 60) || "machine";

export const name_of_machine = (machine) =>
  [machine.typed.machine?.id, machine.typed.machine?.description].filter(Boolean).join(", ") || say("machines.unnamed");

/** Machines with their photos and all references, as one file that can be read back. */
export async function save_file(page, machines) {
  const out = [];
  for (const machine of machines) {
    const kept = [];
    for (const photo of machine.photos ?? []) kept.push({ ...photo, data: await photos.get(photo.id) });
    out.push({ ...machine, photos: kept });
  }
  const name = machines.length === 1 ? file_name(machines[0].typed.machine?.id) : "machines";
  save(`${name}.rewound.json`, JSON.stringify({ format: FORMAT, machines: out, references: page.store.references() }), "application/json");
}

export async function save_record(page) {
  const answer = await page.judgement.ask({ ask: "write", typed: page.machine.typed });
  if (answer.trouble) return notice("file", say("machines.not_imported", { name: name_of_machine(page.machine), why: answer.trouble.join(" ") }));
  save(`${file_name(page.machine.typed.machine?.id)}.toml`, answer.toml, "application/toml");
}

// ---- machines ------------------------------------------------------------------------------------------------------

export function machines_screen(page, into) {
  page.steps.live = [];
  page.fields.clear();
  const all = page.store.machines();
  const choose = h("input", { type: "file", accept: ".toml,.json,application/json,text/plain", multiple: true, id: unique("import"), class: "unseen", onchange: (event) => take_files(page, [...event.target.files]) });
  fill(
    into,
    h("h2", { id: "step-title", tabindex: "-1" }, say("machines.title")),
    h("p", { class: "intro" }, say("page.nothing_sent")),
    h(
      "div",
      { class: "actions" },
      h("button", { type: "button", "data-new": true, onclick: () => page.use(page.new_machine()) }, say("machines.new")),
      h("label", { class: "button quiet", for: choose.id }, say("machines.import")),
      choose,
      h("button", { type: "button", class: "quiet", "data-export": true, onclick: () => save_file(page, page.store.machines()) }, say("machines.export_all")),
    ),
    h("p", { class: "hint" }, say("machines.import_hint")),
    h("h3", {}, say("machines.stored")),
    all.length ? h("ul", { class: "machines" }, all.map((machine) => machine_line(page, machine))) : h("p", {}, say("machines.none")),
    references_part(page, all),
  );
}

function machine_line(page, machine) {
  const name = name_of_machine(machine);
  const decision = machine.decision || "waiting";
  return h(
    "li",
    { "data-machine": machine.id },
    h(
      "button",
      {
        type: "button",
        class: "open",
        onclick: () => {
          if (page.store.machine?.id !== machine.id) page.store.open(machine.id);
          page.use(page.store.machine);
        },
      },
      h("span", { class: "name" }, name),
      h("span", { class: `pill ${decision}` }, say(`decision.${decision}`)),
      h("span", { class: "hint" }, say("machines.changed", { when: new Date(machine.changed).toLocaleString() })),
    ),
    h(
      "button",
      {
        type: "button",
        class: "quiet small",
        "aria-label": `${say("machines.delete")}: ${name}`,
        onclick: () => {
          if (!confirm(say("machines.really", { name }))) return;
          page.store.delete(machine.id);
          if (!page.store.machine) {
            const next = page.store.machines()[0];
            if (next) page.store.open(next.id);
            else page.new_machine();
            page.answer = null;
            page.judge();
          }
          machines_screen(page, page.main);
          notice("file", say("machines.deleted", { name }));
        },
      },
      say("machines.delete"),
    ),
  );
}

function references_part(page, all) {
  const models = new Map();
  for (const machine of all) {
    const model = String(machine.typed.machine?.model ?? "").trim();
    if (model && machine.decision === "release") models.set(model, [...(models.get(model) ?? []), machine]);
  }
  return [
    h("h3", {}, say("machines.references")),
    h("p", { class: "hint" }, say("machines.references_hint")),
    h(
      "ul",
      { class: "machines" },
      page.store.references().map((one) =>
        h(
          "li",
          {},
          h("span", { class: "name" }, say("machines.reference", { model: one.model, count: one.machines })),
          h("button", { type: "button", class: "quiet small", onclick: () => save(`${file_name(one.model)}.reference.toml`, one.toml, "application/toml") }, say("machines.save_reference")),
          h(
            "button",
            {
              type: "button",
              class: "quiet small",
              "aria-label": `${say("machines.delete")}: ${one.model}`,
              onclick: () => {
                page.store.delete_reference(one.model);
                machines_screen(page, page.main);
                page.judge();
              },
            },
            say("machines.delete"),
          ),
        ),
      ),
    ),
    models.size
      ? h(
          "div",
          { class: "actions" },
          [...models].map(([model, good]) =>
            h("button", { type: "button", class: "quiet", "data-learn": model, onclick: () => learn(page, model, good) }, say("machines.learn", { model, count: good.length })),
          ),
        )
      : h("p", { class: "hint" }, say("machines.no_model")),
    h("p", { class: "hint" }, say("machines.only_released")),
  ];
}

async function learn(page, model, good) {
  const answer = await page.judgement.ask({ ask: "learn", typed: good.map(({ typed }) => typed) });
  if (answer.trouble) return notice("file", answer.trouble.join(" "));
  page.store.keep_reference({ model: answer.model, machines: answer.machines, toml: answer.toml });
  const parts = [say("machines.learnt", { model, count: answer.machines })];
  if (answer.set_aside.length) parts.push(say("machines.learnt_aside", { names: answer.set_aside.join(", ") }));
  if (answer.unlike.length) parts.push(say("machines.learnt_unlike", { names: answer.unlike.join(", ") }));
  machines_screen(page, page.main);
  notice("file", parts.join(" "));
  page.judge();
}

// ---- files ---------------------------------------------------------------------------------------------------------

export async function take_files(page, files) {
  const taken = [], refused = [];
  let opened = null;
  for (const file of files) {
    try {
      const found = await take_file(page, file.name, await file.text());
      taken.push(found.name);
      opened = found.machine ?? opened;
    } catch (trouble) {
      refused.push(say("machines.not_imported", { name: file.name, why: trouble.message }));
    }
  }
  if (opened) page.use(opened);
  else machines_screen(page, page.main);
  notice("file", [taken.length ? say("machines.imported", { what: taken.join("; ") }) : "", ...refused].filter(Boolean).join(" "));
}

async function take_file(page, name, text) {
  if (text.trimStart().startsWith("{")) return take_saved(page, JSON.parse(text));
  if (/^\s*format\s*=\s*['"]rewound-reference\//m.test(text)) {
    const answer = await page.judgement.ask({ ask: "refer", text, name });
    if (answer.trouble) throw new Error(answer.trouble.join(" "));
    page.store.keep_reference({ model: answer.model, machines: answer.machines, toml: text });
    page.judge();
    return { name: say("machines.reference", { model: answer.model, count: answer.machines }) };
  }
  const answer = await page.judgement.ask({ ask: "read", text, name });
  if (answer.trouble) throw new Error(answer.trouble.join(" "));
  const machine = page.new_machine(answer.typed);
  await judge_beside(page, machine);
  return { name: name_of_machine(machine), machine };
}

/** The decision on a machine that is not shown, for the list of machines. */
async function judge_beside(page, machine) {
  const answer = await page.judgement.ask({ ask: "judge", typed: machine.typed, reference: page.reference()?.toml ?? "" });
  page.store.keep_decision(machine.id, answer.view?.decision ?? "");
}

async function take_saved(page, saved) {
  if (saved?.format !== FORMAT) throw new Error(`format = "${FORMAT}"`);
  let machine = null;
  for (const one of saved.machines ?? []) {
    if (!one || typeof one.typed !== "object" || one.typed === null) continue;
    const typed = cleaned(one.typed, page.list);
    const kept = [];
    for (const photo of Array.isArray(one.photos) ? one.photos : []) {
      if (typeof photo?.data !== "string" || !photo.data.startsWith("data:image/")) continue;
      const id = `${Date.now().toString(36)}${Math.random().toString(36).slice(2, 8)}`;
      await photos.put(id, photo.data);
      kept.push({ id, width: Number(photo.width) || 0, height: Number(photo.height) || 0 });
    }
    machine = page.new_machine(typed, { photos: kept });
    await judge_beside(page, machine);
  }
  for (const reference of saved.references ?? []) {
    const answer = await page.judgement.ask({ ask: "refer", text: String(reference.toml), name: String(reference.model) });
    if (!answer.trouble) page.store.keep_reference({ model: answer.model, machines: answer.machines, toml: String(reference.toml) });
  }
  const count = (saved.machines ?? []).length;
  return { name: `${say("machines.title")}: ${count}`, machine: count === 1 ? machine : null };
}

// ---- photos --------------------------------------------------------------------------------------------------------

export function attachments(page) {
  const holder = h("div", { class: "photos" });
  const choose = h("input", { type: "file", accept: "image/*", multiple: true, id: unique("photos"), class: "unseen", "data-photos": true, onchange: (event) => add([...event.target.files]) });
  const add = async (files) => {
    for (const file of files) {
      let made;
      try {
        made = await scaled_down(file);
      } catch {
        notice("file", say("attach.too_big", { name: file.name }));
        continue;
      }
      const id = `${Date.now().toString(36)}${Math.random().toString(36).slice(2, 8)}`;
      if (!(await photos.put(id, made.data))) notice("photo", say("storage.photo_full"), say("storage.save"), () => page.save_machine());
      page.machine.photos = [...(page.machine.photos ?? []), { id, width: made.width, height: made.height }];
      page.changed(null);
    }
    choose.value = "";
    draw();
  };
  const draw = async () => {
    const shown = [];
    for (const [n, photo] of (page.machine.photos ?? []).entries()) {
      const data = await photos.get(photo.id);
      const name = say("attach.photo", { n: n + 1 });
      shown.push(
        h(
          "figure",
          {},
          data ? h("img", { src: data, alt: name, width: photo.width, height: photo.height }) : h("p", {}, name),
          h(
            "button",
            {
              type: "button",
              class: "quiet small",
              "aria-label": `${say("attach.remove")} ${n + 1}`,
              onclick: () => {
                page.machine.photos = page.machine.photos.filter(({ id }) => id !== photo.id);
                photos.delete(photo.id);
                page.changed(null);
                draw();
              },
            },
            say("attach.remove"),
          ),
        ),
      );
    }
    fill(holder, shown);
  };
  draw();
  return h("section", { class: "group" }, h("div", { class: "actions" }, h("label", { class: "button quiet", for: choose.id }, say("attach.add")), choose), holder);
}

// ---- report --------------------------------------------------------------------------------------------------------

export function report_screen(page) {
  const frame = h("div", {});
  const asked = async () => {
    const reference = page.answer?.not_compared ? "" : page.reference()?.toml ?? "";
    const answer = await page.judgement.ask({ ask: "report", typed: page.machine.typed, reference });
    if (answer.trouble) {
      fill(frame, h("p", { class: "question" }, say("report.not_yet")));
      return null;
    }
    return answer.html;
  };
  const show = async () => {
    const html = await asked();
    if (html === null) return null;
    // No scripts in it run: the frame allows none, and the page's own policy holds in it.
    const inside = h("iframe", { class: "report", title: say("report.frame"), sandbox: "allow-same-origin allow-modals", srcdoc: html });
    const loaded = new Promise((resolve) => inside.addEventListener("load", resolve, { once: true }));
    fill(frame, inside);
    await loaded;
    const height = inside.contentDocument?.documentElement.scrollHeight;
    if (height) inside.style.height = `${height + 24}px`;
    return inside;
  };
  return [
    h(
      "div",
      { class: "actions" },
      h("button", { type: "button", "data-report": true, onclick: show }, say("report.show")),
      h("button", { type: "button", class: "quiet", "data-print": true, onclick: async () => (await show())?.contentWindow.print() }, say("report.print")),
      h("button", { type: "button", class: "quiet", "data-save": "html", onclick: async () => {
        const html = await asked();
        if (html !== null) save(`${file_name(page.machine.typed.machine?.id)}.html`, html, "text/html");
      } }, say("report.save_page")),
      h("button", { type: "button", class: "quiet", "data-save": "toml", onclick: () => save_record(page) }, say("report.save_record")),
      h("button", { type: "button", class: "quiet", "data-save": "json", onclick: () => page.save_machine() }, say("report.save_machine")),
    ),
    frame,
  ];
}
