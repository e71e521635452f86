// "Try a sample": a demo case, a small form over its JSON, and the answer of the public interface.

import { capital, h, Words } from "./dom.js";
import { problem, report } from "./report.js";

const root = document.getElementById("try");
const find = (id) => document.getElementById(id);
const [form, json, answer, status] = ["try-form", "try-json", "try-answer", "try-status"].map(find);
const language = root.dataset.language;
const empty = [...answer.childNodes];
let words = new Words({}, language);
let submission = {};

async function load(url) {
  const response = await fetch(url, { headers: { Accept: "application/json" } });
  if (!response.ok) throw new Error(response.status);
  return response.json();
}

async function crops() {
  const found = [];
  let address = `/v1/crops?language=${language}`;
  for (let page = 0; address && page < 20; page += 1) {
    const { items, next } = await load(address);
    found.push(...items);
    address = next ? `/v1/crops?language=${language}&cursor=${encodeURIComponent(next)}` : null;
  }
  return found.map((crop) => [crop.id, crop.names?.[language]?.[0] ?? crop.names?.en?.[0] ?? crop.id]);
}

function offerCrops(pairs) {
  for (const [id, name] of pairs) words.texts[`word.crop.${id}`] = name;
  const sorted = pairs.sort((one, other) => one[1].localeCompare(other[1], language));
  find("try-crop").replaceChildren(
    h("option", { value: "" }, words.text("page.try.no_crop")),
    ...sorted.map(([id, name]) => h("option", { value: id }, capital(name))));
}

// One result per line, short objects on one line: long enough to read, short enough to scroll.
function pretty(value, indent = "") {
  const plain = JSON.stringify(value);
  if (typeof value !== "object" || value === null || (indent && plain.length + indent.length <= 60)) return spaced(value);
  const inner = `${indent}  `;
  const lines = Array.isArray(value)
    ? value.map((item) => inner + spaced(item))
    : Object.entries(value).map(([key, item]) => `${inner}${JSON.stringify(key)}: ${pretty(item, inner)}`);
  const [open, close] = Array.isArray(value) ? "[]" : "{}";
  return lines.length ? `${open}\n${lines.join(",\n")}\n${indent}${close}` : open + close;
}

function spaced(value) {
  if (Array.isArray(value)) return `[${value.map(spaced).join(", ")}]`;
  if (typeof value !== "object" || value === null) return JSON.stringify(value);
  return `{${Object.entries(value).map(([key, item]) => `${JSON.stringify(key)}: ${spaced(item)}`).join(", ")}}`;
}

function writeJson() {
  json.value = pretty(submission);
  find("try-json-fault").hidden = true;
}

function showForm() {
  const target = submission.target ?? {};
  const crop = find("try-crop");
  if (target.crop && ![...crop.options].some((option) => option.value === target.crop)) {
    crop.append(h("option", { value: target.crop }, target.crop));
  }
  crop.value = target.crop ?? "";
  find("try-area").value = target.area?.value ?? "";
  find("try-area-unit").value = target.area?.unit ?? "ft2";
  find("try-units").value = submission.options?.units ?? "us_garden";
  find("try-results").replaceChildren(...(Array.isArray(submission.results) ? submission.results : []).map(resultRow));
}

function resultRow(result, position) {
  const name = capital(words.word("analyte", result.analyte));
  const shown = result.text ?? `${result.qualifier ?? ""}${result.value ?? ""}`;
  const input = h("input", { type: "text", inputmode: result.text ? "text" : "decimal", value: shown, "aria-label": name });
  input.addEventListener("input", () => {
    submission.results[position] = retyped(submission.results[position], input.value.trim());
    writeJson();
  });
  const method = result.method ? h("span", { class: "method" }, words.word("method", result.method)) : null;
  return h("tr", {}, h("th", { scope: "row" }, name, method), h("td", {}, input), h("td", { class: "unit" }, result.unit ?? ""));
}

// "<0.2" becomes a value with a qualifier; what is no number is sent as it was typed, for the service to answer.
function retyped(result, typed) {
  if ("text" in result) return { ...result, text: typed };
  const { qualifier, ...rest } = result;
  const [, sign, figure] = /^([<>]?)\s*(.*)$/.exec(typed);
  const number = figure !== "" && Number.isFinite(Number(figure)) ? Number(figure) : figure;
  return sign ? { ...rest, value: number, qualifier: sign } : { ...rest, value: number };
}

function readForm() {
  const target = { ...submission.target, crop: find("try-crop").value || null };
  const area = Number(find("try-area").value);
  if (find("try-area").value === "") delete target.area;
  else target.area = { value: area, unit: find("try-area-unit").value };
  submission.target = target;
  submission.options = { ...submission.options, units: find("try-units").value };
  writeJson();
}

function readJson() {
  try {
    const parsed = JSON.parse(json.value);
    if (typeof parsed !== "object" || parsed === null || Array.isArray(parsed)) throw new SyntaxError("not an object");
    submission = parsed;
    find("try-json-fault").hidden = true;
    showForm();
  } catch {
    find("try-json-fault").hidden = false;
  }
}

async function choose(radio) {
  submission = await load(radio.dataset.href);
  submission.options = { ...submission.options, language };
  writeJson();
  showForm();
  answer.replaceChildren(...empty);
  status.textContent = "";
}

// The key stays in its field: it is kept nowhere else and goes with this one request.
function authorization() {
  const key = (find("try-key")?.value ?? "").replace(/[^\x21-\x7e]/g, "");
  return key ? { Authorization: `Bearer ${key}` } : {};
}

async function interpret(event) {
  event.preventDefault();
  const button = find("try-run");
  button.setAttribute("aria-disabled", "true");
  status.textContent = words.text("page.try.working");
  const started = performance.now();
  try {
    const headers = { "Content-Type": "application/json", Accept: "application/json", ...authorization() };
    const response = await fetch("/v1/interpretations?store=false", { method: "POST", headers, body: json.value });
    const text = await response.text();
    const milliseconds = Math.round(performance.now() - started);
    show(response, JSON.parse(text));
    status.textContent = words.text("page.try.done", { status: response.status, milliseconds });
  } catch {
    answer.replaceChildren();
    status.textContent = words.text("page.try.unreachable");
  }
  button.removeAttribute("aria-disabled");
  find("answer-heading").focus({ preventScroll: true });
  find("answer-heading").scrollIntoView({ block: "nearest" });
}

function show(response, found) {
  const parts = response.ok ? report(found, words) : problem(found, words);
  const whole = h("details", {}, h("summary", {}, words.text("page.try.answer_json")),
    h("pre", { class: "json", tabindex: "0" }, h("code", {}, JSON.stringify(found, null, 2))));
  answer.replaceChildren(...parts, whole);
}

async function start() {
  words = new Words(await load(root.dataset.words), language);
  offerCrops(await crops().catch(() => []));
  form.addEventListener("submit", interpret);
  json.addEventListener("input", readJson);
  for (const id of ["try-crop", "try-area", "try-area-unit", "try-units"]) find(id).addEventListener("input", readForm);
  for (const radio of form.querySelectorAll("input[name=case]")) radio.addEventListener("change", () => choose(radio));
  await choose(form.querySelector("input[name=case]:checked"));
}

start();
