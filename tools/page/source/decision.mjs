// What stands on top: decision, reason and next step; all of it when opened.
import { fill, h } from "./element.mjs";
import { problem_text } from "./main.mjs";
import { label_of, say } from "./words.mjs";

const SIGN = { release: "✓", hold: "■", undecided: "?", waiting: "·" };

export function decision_bar(page) {
  const bar = document.getElementById("decision");
  const answer = page.answer;
  const view = answer?.view;
  const decision = view?.decision ?? "waiting";
  const { id, description } = page.machine.typed.machine ?? {};
  const heading = document.getElementById("machine-name");
  const name = [id || say("machines.unnamed"), description ? `, ${description}` : ""];
  if (heading.textContent !== name.join("")) fill(heading, name[0], h("span", { class: "what" }, name[1]));
  const lines = view ? judged_lines(view) : waiting_lines(page, answer);
  const more = view ? everything(page, view, answer) : others(answer);
  const text = JSON.stringify([decision, lines, more.map((one) => one.textContent)]);
  if (bar.dataset.shown === text) return;
  bar.dataset.shown = text;
  bar.dataset.decision = decision;
  fill(document.getElementById("verdict"), h("span", { class: "sign", "aria-hidden": "true" }, SIGN[decision]), say(`decision.${decision}`));
  fill(document.getElementById("reasons"), lines);
  const details = document.getElementById("everything");
  details.hidden = more.length === 0;
  fill(details.querySelector("div"), more);
}

const line = (name, text) => h("p", { class: "line" }, h("b", {}, `${name}: `), text);

function judged_lines(view) {
  return [
    view.brief.reasons[0] ? line(say("decision.why"), view.brief.reasons[0]) : null,
    view.brief.next[0] ? line(say("decision.next"), view.brief.next[0]) : view.brief.conditions[0] ? line(say("decision.conditions"), view.brief.conditions[0]) : null,
  ].filter(Boolean);
}

function waiting_lines(page, answer) {
  if (!answer) return [h("p", { class: "line" }, say("decision.working"))];
  if (answer.trouble) return answer.trouble.map((one) => h("p", { class: "line" }, one));
  const missing = answer.missing.map(({ section, key }) => say(`missing.${key}`, {}, label_of(section, page.fields.key(section, key))));
  const text = missing.length ? say("decision.begin", { missing: missing.join(", ") }) : say("decision.refused");
  return [h("p", { class: "line" }, text)];
}

function list(title, texts) {
  if (!texts.length) return null;
  return h("section", {}, h("h2", {}, title), h("ul", {}, texts.map((text) => h("li", {}, text))));
}

function everything(page, view, answer) {
  return [
    h("p", {}, view.decision_sentence),
    list(say("decision.why"), view.reasons),
    list(say("decision.next"), view.next),
    list(say("decision.conditions"), view.conditions),
    list(say("decision.causes"), view.causes.slice(0, 3)),
    list(say("decision.cautions"), view.cautions),
    view.expectation ? list(say("decision.compared"), [view.expectation]) : null,
    ...others(answer),
  ].filter(Boolean);
}

/** What was left out of the judgement, wherever its field is. */
function others(answer) {
  const out = [];
  for (const why of answer?.not_compared ?? []) out.push(h("p", {}, say("not_compared", { why })));
  for (const problem of answer?.problems ?? [])
    out.push(h("p", {}, `${problem.section}${problem.entry >= 0 ? ` ${problem.entry + 1}` : ""}, ${problem.key}: ${problem_text(problem)}`));
  return out;
}
