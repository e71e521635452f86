// The answer of the interface as a report people can read: what to do first, then figures, reasons and sources.

import { axis } from "./axis.js";
import { capital, h, s } from "./dom.js";

const URGENT = ["danger", "warning"];
const LEFT_OUT = ["withhold", "hold", "refuse"];
const SIGNS = {
  released: "M5 13l5 5L20 6",
  partial: "M12 3a9 9 0 1 0 0 18z",
  held: "M8 5v14M16 5v14",
  refused: "M6 6l12 12M18 6L6 18",
};

export function report(answer, words) {
  const parts = [head, urgent, lay, reasons, figures, salts, water, recommendations, materials, cautions, missing, checks,
    sources, provenance];
  return parts.map((part) => part(answer, words)).flat().filter(Boolean);
}

const list = (found) => (Array.isArray(found) ? found : []);
const filled = (found) => found !== null && found !== undefined && found !== "";

function section(words, heading, ...children) {
  return h("section", {}, h("h3", {}, words.text(heading)), ...children);
}

function definitions(name, pairs) {
  const shown = pairs.filter(([, text]) => filled(text));
  return h("dl", { class: name }, shown.map(([term, text]) => [h("dt", {}, term), h("dd", {}, text)]));
}

function head(answer, words) {
  const sign = s("svg", { viewBox: "0 0 24 24", "aria-hidden": "true" },
    s("path", { d: SIGNS[answer.outcome] ?? "", fill: answer.outcome === "partial" ? "currentColor" : "none",
      stroke: "currentColor", "stroke-width": 2.6, "stroke-linecap": "round" }));
  return h("section", {},
    h("p", { class: "outcome", "data-outcome": answer.outcome }, sign,
      h("span", {}, words.text(`report.outcome.${answer.outcome}`))),
    answer.crop ? h("p", { class: "small" }, words.text("report.crop", { crop: words.word("crop", answer.crop) })) : null,
    answer.summary?.verdict ? h("p", { class: "verdict" }, answer.summary.verdict) : null);
}

function urgent(answer, words) {
  const found = list(answer.cautions).filter((caution) => URGENT.includes(caution.severity));
  return found.length ? section(words, "report.urgent", found.map((caution) => warning(caution, words))) : null;
}

function warning(caution, words) {
  const who = caution.consult;
  return h("div", { class: "caution", "data-severity": caution.severity },
    h("p", {}, h("span", { class: "level" }, `${capital(words.word("severity", caution.severity))}. `), caution.text),
    filled(who) ? h("p", { class: "who small" }, words.text("report.consult", { who })) : null);
}

function lay({ summary }, words) {
  if (!summary) return null;
  const actions = list(summary.actions);
  const donts = list(summary.do_not);
  return [
    actions.length ? section(words, "report.actions",
      h("ol", { class: "actions" }, actions.map((text) => h("li", {}, text)))) : null,
    donts.length ? section(words, "report.do_not",
      h("ul", { class: "donts" }, donts.map((text) => h("li", {}, text)))) : null,
    h("section", {}, definitions("lay", [
      [words.text("report.retest"), words.month(summary.retest)],
      [words.text("report.contact"), summary.contact]])),
  ];
}

function reasons(answer, words) {
  const found = list(answer.reasons);
  const out = found.filter((reason) => LEFT_OUT.includes(reason.severity));
  const rest = found.filter((reason) => !LEFT_OUT.includes(reason.severity));
  const items = (some) => h("ul", { class: "plain" }, some.map((reason) => told(reason.message, reason.ask)));
  return [out.length ? section(words, "report.reasons", items(out)) : null,
    rest.length ? section(words, "report.remarks", items(rest)) : null];
}

function told(message, ask, lead = null) {
  return h("li", {}, lead, message, filled(ask) ? h("span", { class: "ask" }, ask) : null);
}

function figures(answer, words) {
  const found = list(answer.findings);
  if (!found.length) return null;
  const layered = new Set(found.map((finding) => String(finding.depth_in))).size > 1;
  const columns = ["report.figure", "report.value", "report.meaning", "report.class"];
  return section(words, "report.figures", h("table", { class: "figures" },
    h("thead", {}, h("tr", {}, columns.map((code) => h("th", { scope: "col" }, words.text(code))))),
    h("tbody", {}, found.map((finding) => figure(finding, layered, words)))));
}

function figure(finding, layered, words) {
  const method = finding.method ? h("span", { class: "method" }, words.word("method", finding.method)) : null;
  const sign = finding.qualifier ? `${finding.qualifier} ` : "";
  const rated = finding.status === "rated" && finding.rating;
  // A figure without a class of its own because another part of the report rests on it is not "not rated".
  const used = String(finding.code).startsWith("finding.used_for_");
  const meaning = rated ? words.word("rating", finding.rating) : used ? "" : words.word("status", finding.status);
  return h("tr", {},
    h("th", { scope: "row" }, capital(words.word("analyte", finding.analyte)), method, layered ? layer(finding.depth_in, words) : null),
    h("td", { class: "value" }, sign + reported(finding, words)),
    h("td", {}, meaning ? h("strong", {}, capital(meaning)) : null, near(finding, words), note(finding.why), rivals(finding, words)),
    h("td", {}, axis(finding, words), limits(finding.class, words)));
}

// A class word ("sandy_loam", "strong") in the reader's language, or the figure as it was sent.
function reported({ analyte, reported: sent }, words) {
  return typeof sent?.value === "string" ? words.word(analyte === "texture" ? "texture" : "fizz", sent.value) : words.quantity(sent);
}

function layer(depth, words) {
  return depth ? h("span", { class: "method" }, words.text("report.depth", { top: depth[0], bottom: depth[1] })) : null;
}

function rivals(finding, words) {
  const others = list(finding.rivals).filter((rival) => rival.rating !== finding.rating).map((rival) =>
    words.text("report.rival", { rating: words.word("rating", rival.rating), calibration: words.word("calibration", rival.calibration) }));
  return others.length ? note(words.text("report.rivals", { rivals: others.join("; ") })) : null;
}

function near({ borderline }, words) {
  if (!borderline) return null;
  const values = { rating: words.word("rating", borderline.other_rating), percent: Math.round(100 * borderline.probability) };
  return note(words.text("report.borderline", values));
}

const note = (text) => (filled(text) ? h("span", { class: "why" }, text) : null);

function limits(band, words) {
  if (!band || (band.lower === null && band.upper === null)) return null;
  const code = band.lower === null ? "report.below" : band.upper === null ? "report.from" : "report.range";
  const unit = ["1", "pH", ""].includes(band.unit) ? "" : words.texts[`word.unit.${band.unit}`] ?? band.unit;
  return note(words.text(code, { lower: band.lower, upper: band.upper, unit }).replace(/\s+/g, " ").trim());
}

function salts({ salinity, sodium, texture }, words) {
  if (!salinity && !sodium && !texture) return null;
  const notes = [salinity, sodium, texture].flatMap((part) => list(part?.notes));
  const pairs = [...saltPairs(salinity ?? {}, words), ...sodiumPairs(sodium ?? {}, words),
    ["report.texture", texture?.class ? words.word("texture", texture.class) : ""]];
  return section(words, "report.salts",
    definitions("facts", pairs.map(([code, text]) => [words.text(code), text])),
    notes.length ? h("ul", {}, notes.map((text) => h("li", {}, text))) : null);
}

function saltPairs(salinity, words) {
  const leaching = salinity.leaching;
  const percent = salinity.relative_yield_pct;
  return [
    ["report.ece", salinity.ECe ? conductivity(salinity.ECe, words) : ""],
    ["report.salinity_class", salinity.class ? words.word("salinity_class", salinity.class) : ""],
    ["report.relative_yield", typeof percent === "number"
      ? words.text("report.relative_yield_value", { percent: Math.round(percent) }) : ""],
    ["report.alternatives", list(salinity.alternatives).map((plant) => plantText(plant, words)).join(", ")],
    ["report.leaching", leaching ? words.text("report.leaching_value", { depth: words.quantity(leaching.depth) }) : ""],
    ["report.conditions", list(leaching?.conditions).join(" ")],
  ];
}

function plantText({ crop, relative_yield_pct: percent, rating }, words) {
  if (percent === null) {
    return words.text("report.better_plants_rated", { plant: words.word("crop", crop), rating: words.word("salt_rating", rating) });
  }
  return words.text("report.better_plants", { plant: words.word("crop", crop), percent: Math.round(percent) });
}

function conductivity(ece, words) {
  if (!ece.estimated || !ece.range) return words.quantity(ece);
  const [low, high] = Array.isArray(ece.range) ? ece.range : [ece.range.low, ece.range.high];
  return words.text("report.ece_estimated", { value: words.quantity(ece), low, high });
}

function sodiumPairs(sodium, words) {
  const esp = sodium.ESP;
  return [
    ["report.sar", typeof sodium.SAR === "number" ? words.number(sodium.SAR) : ""],
    ["report.esp", esp ? words.text("report.esp_value", { value: esp.value, how: words.word("esp_how", esp.how) }) : ""],
    ["report.sodium_class", sodium.class ? words.word("sodium_class", sodium.class) : ""],
    ["report.soil_class", sodium.soil_class ? words.word("soil_class", sodium.soil_class) : ""],
    ["report.gypsum", sodium.gypsum ? dose(sodium.gypsum, words) : ""],
  ];
}

function dose({ rate, for_area: area, text }, words) {
  if (!rate) return text;
  if (!area) return words.quantity(rate);
  return words.text("report.rate_and_total", { rate: words.quantity(rate), total: words.quantity(area) });
}

function water(answer, words) {
  const hazards = list(answer.water?.hazards);
  if (!answer.water) return null;
  const pairs = hazards.map((hazard) => [capital(words.word("problem", hazard.problem)),
    `${words.quantity(hazard.value)}: ${words.word("restriction", hazard.restriction)}`]);
  return section(words, "report.water", definitions("facts", pairs),
    h("ul", {}, list(answer.water.notes).map((text) => h("li", {}, text))));
}

function recommendations(answer, words) {
  const found = list(answer.recommendations);
  return found.length ? section(words, "report.recommendations", found.map((one) => advice(one, words))) : null;
}

function advice(one, words) {
  const doses = list(one.applications);
  return h("article", { class: "advice", "data-kind": one.kind },
    h("h4", {}, capital(words.word("subject", one.subject)), h("span", { class: "sort" }, words.word("kind", one.kind))),
    amount(one, words),
    h("p", {}, one.text),
    doses.length ? h("table", {},
      h("thead", {}, h("tr", {}, ["report.when", "report.dose", "report.limit"].map((code) =>
        h("th", { scope: "col" }, words.text(code))))),
      h("tbody", {}, doses.map((dose) => h("tr", {}, h("td", {}, dose.when), h("td", {}, words.quantity(dose.rate)),
        h("td", {}, dose.limit ?? ""))))) : null,
    because(one, words));
}

function amount(one, words) {
  if (!one.rate && !one.for_area) return null;
  const total = one.for_area ? `${words.text("report.for_area")}: ${words.quantity(one.for_area)}` : "";
  const rate = one.rate ? words.quantity(one.rate) : "";
  return h("p", { class: "amount" }, total || rate, total && rate ? h("span", { class: "rest" }, ` (${rate})`) : null);
}

function because(one, words) {
  const steps = list(one.because);
  const marks = [];
  if (list(one.sources).length) marks.push(words.text("report.source_marks", { sources: one.sources.join(", ") }));
  if (one.verification) {
    marks.push(words.text("report.verification", { mark: words.word("verification", one.verification) }));
  }
  const checked = marks.length ? h("p", { class: "small" }, marks.join(". ")) : null;
  if (!steps.length) return checked;
  return h("details", {}, h("summary", {}, words.text("report.because")),
    h("ol", { class: "steps" }, steps.map((step) => arithmetic(step, words))),
    checked);
}

function arithmetic(step, words) {
  const inputs = Object.entries(step.inputs ?? {}).map(([name, value]) => `${name} = ${words.value(value)}`);
  const result = words.quantity({ value: step.value, unit: step.unit });
  return h("li", {}, step.step, " ", h("code", {}, [inputs.join(", "), result].filter(Boolean).join(" → ")));
}

function materials(answer, words) {
  const found = list(answer.materials);
  const pairs = found.map((one) => [capital(words.word("product", one.material)),
    [one.grade, words.quantity(one.amount), one.household].filter(filled).join(", ")]);
  return found.length ? section(words, "report.materials", definitions("facts", pairs)) : null;
}

function cautions(answer, words) {
  const found = list(answer.cautions).filter((caution) => !URGENT.includes(caution.severity));
  return found.length ? section(words, "report.cautions", found.map((caution) => warning(caution, words))) : null;
}

function missing(answer, words) {
  const found = list(answer.not_assessed);
  if (!found.length) return null;
  return section(words, "report.not_assessed", h("ul", { class: "plain" }, found.map((one) =>
    told(one.why, one.ask, h("strong", {}, `${capital(words.word("subject", one.subject))}. `)))));
}

function checks(answer, words) {
  const found = list(answer.quality_checks).filter((check) => check.status !== "not_possible");
  if (!found.length) return null;
  return section(words, "report.quality_checks", h("ul", { class: "plain" }, found.map((check) =>
    h("li", {}, h("strong", {}, `${capital(words.word("status", check.status))}. `), check.message))));
}

function sources(answer, words) {
  const found = Object.entries(answer.sources ?? {});
  if (!found.length) return null;
  const link = (url) => (/^https?:\/\//.test(url ?? "")
    ? h("a", { href: url, rel: "noreferrer external" }, url) : null);
  return section(words, "report.sources", h("ul", { class: "plain sources small" }, found.map(([id, source]) =>
    h("li", {}, h("strong", {}, `${id}. `), source.citation, " ", link(source.url)))));
}

function provenance(answer, words) {
  const made = answer.provenance;
  if (!made) return null;
  const editions = new Map();
  for (const table of list(made.tables)) editions.set(table.edition, [...(editions.get(table.edition) ?? []), table]);
  const tables = [...editions].map(([edition, some]) => `${edition}: ${some.map((table) => table.id).join(", ")}`).join("; ");
  return h("section", {}, h("details", {}, h("summary", {}, words.text("report.provenance")), definitions("facts", [
    [words.text("report.engine"), made.engine],
    [words.text("report.tables"), tables],
    [words.text("report.fingerprint"), made.submission_sha256],
    [words.text("report.released_by"), made.released_by ? words.text(`report.released_by.${made.released_by}`) : ""]])),
  filled(made.disclaimer) ? h("p", { class: "small" }, made.disclaimer) : null);
}

export function problem(found, words) {
  const errors = list(found.errors);
  return [h("section", {}, h("p", { class: "verdict" }, words.text("page.try.problem")),
    errors.length ? null : h("p", {}, found.detail ?? found.title),
    h("ul", { class: "plain" }, errors.map((error) => h("li", {}, h("code", {}, error.pointer), " ",
      error.message,
      filled(error.expected) ? h("span", { class: "ask" }, words.text("page.try.expected", error)) : null,
      list(error.suggestions).length
        ? h("span", { class: "ask" }, words.text("page.try.suggestions", error)) : null))))];
}
