// Small helpers: elements without markup strings, words with their values, numbers as the language writes them.

const SVG = "http://www.w3.org/2000/svg";

function build(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === false || value === null || value === undefined) continue;
    node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== ""));
  return node;
}

export const h = (tag, attributes, ...children) => build(document.createElement(tag), attributes, children);
export const s = (tag, attributes, ...children) => build(document.createElementNS(SVG, tag), attributes, children);

export class Words {
  constructor(texts, language) {
    this.texts = texts;
    // es-US writes 1,234.5 like en-US: with a decimal comma a dose could be read a thousandfold.
    this.wholes = new Intl.NumberFormat(`${language}-US`, { maximumFractionDigits: 0 });
    this.figures = new Intl.NumberFormat(`${language}-US`, { maximumSignificantDigits: 4 });
    this.months = new Intl.DateTimeFormat(`${language}-US`, { month: "long", year: "numeric", timeZone: "UTC" });
  }

  text(code, values = {}) {
    const found = this.texts[code];
    if (found === undefined) return `[${code}]`;
    return found.replace(/\{(\w+)\}/g, (_, name) => this.value(values[name]));
  }

  word(kind, word) {
    return this.texts[`word.${kind}.${word}`] ?? String(word ?? "").replaceAll("_", " ");
  }

  value(value) {
    if (value === null || value === undefined) return "–";
    if (typeof value === "number") return this.number(value);
    if (typeof value === "boolean") return this.word("answer", value ? "yes" : "no");
    if (Array.isArray(value)) return value.map((item) => this.value(item)).join(", ");
    return typeof value === "object" ? this.quantity(value) : String(value);
  }

  number(value) {
    return Math.abs(value) >= 999.95 ? this.wholes.format(value) : this.figures.format(value);
  }

  quantity(found) {
    if (typeof found !== "object" || found === null) return this.value(found);
    if (!("value" in found)) return Object.values(found).map((item) => this.value(item)).join(", ");
    const { value, unit } = found;
    if (typeof value !== "number" || !unit || ["1", "pH", "[pH]"].includes(unit)) return this.value(value);
    const one = value === 1 ? this.texts[`word.unit_one.${unit}`] : undefined;
    return `${this.number(value)} ${one ?? this.texts[`word.unit.${unit}`] ?? unit}`;
  }

  month(yearMonth) {
    const match = /^(\d{4})-(\d{2})$/.exec(yearMonth ?? "");
    return match ? this.months.format(new Date(Date.UTC(match[1], match[2] - 1, 1))) : yearMonth;
  }
}

export const capital = (text) => (/^.[A-Z]/.test(text) ? text : text.charAt(0).toUpperCase() + text.slice(1));
