// One result on its own axis: the class it fell in drawn as a bar, the limits named, the value as a dot.

import { s } from "./dom.js";

const WIDTH = 210;
const MARGIN = 12;
const LINE = 16;

export function axis(finding, words) {
  const value = finding.understood?.value;
  const band = finding.class;
  if (typeof value !== "number" || !band || (band.lower === null && band.upper === null)) return null;
  const [from, to] = ends(value, band);
  const at = (x) => MARGIN + ((Math.min(Math.max(x, from), to) - from) / (to - from)) * (WIDTH - 2 * MARGIN);
  const left = at(band.lower ?? from);
  const right = at(band.upper ?? to);
  const label = words.text("page.try.axis", { value: words.quantity(finding.understood) });
  const limits = [band.lower, band.upper].filter((limit) => typeof limit === "number");
  return s("svg", { class: "axis", viewBox: `0 0 ${WIDTH} 44`, role: "img", "aria-label": label },
    s("rect", { class: "class", x: left, y: LINE - 6, width: Math.max(right - left, 1), height: 12 }),
    s("line", { class: "line", x1: MARGIN, x2: WIDTH - MARGIN, y1: LINE, y2: LINE }),
    limits.map((limit) => s("line", { class: "line", x1: at(limit), x2: at(limit), y1: LINE - 9, y2: LINE + 9 })),
    limits.map((limit) => s("text", { x: at(limit), y: 39, "text-anchor": "middle" }, words.number(limit))),
    s("circle", { class: "dot", cx: at(value), cy: LINE, r: 6 }));
}

function ends(value, { lower, upper }) {
  const low = lower ?? Math.min(0, value);
  const high = upper ?? Math.max(value * 1.2, low * 1.5, low + 1);
  const room = (high - low) * 0.35;
  return [lower === null ? low : Math.max(low - room, low > 0 ? 0 : low - room), upper === null ? high : high + room];
}
