// The pages of the song: put in as parsed pictures, never as markup; what is clicked leads to its place in the text.

import { store } from "./connection.js";

const SVG = "http://www.w3.org/2000/svg";
const place = document.getElementById("pages");
const parser = new DOMParser();
const fonts = new Map();
let shown = [];

// Shows the pages; those that are as they were stay.
export async function show(pictures, families) {
  await Promise.all(families.map(font));
  pictures.forEach((picture, number) => {
    if (shown[number] === picture && place.children[number]) return;
    const parsed = parser.parseFromString(picture, "image/svg+xml").documentElement;
    if (parsed.namespaceURI !== SVG || parsed.localName !== "svg") return;
    const page = document.importNode(parsed, true);
    page.setAttribute("role", "img");
    page.setAttribute("aria-label", `page ${number + 1} of ${pictures.length}`);
    if (place.children[number]) place.children[number].replaceWith(page);
    else place.append(page);
  });
  while (place.children.length > pictures.length) place.lastElementChild.remove();
  shown = pictures;
  place.classList.remove("old");
}

export function clear() {
  place.replaceChildren();
  shown = [];
}

// Says that the pages are not those of the text.
export function outdated() {
  if (shown.length) place.classList.add("old");
}

function font(family) {
  if (!fonts.has(family)) {
    fonts.set(family, store.font(family).then(async (data) => {
      const face = new FontFace(family, data);
      document.fonts.add(await face.load());
    }).catch(() => fonts.delete(family)));
  }
  return fonts.get(family);
}

export function onClick(react) {
  place.addEventListener("click", (event) => {
    const item = event.target.closest("[data-from]");
    if (item) react(Number(item.dataset.from), Number(item.dataset.to), item.dataset.role);
  });
}

// Tells which page was clicked, from 0.
export function onPage(react) {
  place.addEventListener("click", (event) => {
    const at = [...place.children].findIndex((page) => page.contains(event.target));
    if (at >= 0) react(at);
  });
}

export function scrollTo(page) {
  place.children[page]?.scrollIntoView({ block: "start" });
}

const MARKED = ["chord", "hand", "letters", "staff", "head"];

// Where an item is, of a text its capitals: the box of a browser has the room between lines.
function inkOf(item) {
  const box = item.getBBox();
  const text = item.querySelector("text");
  if (!text) return box;
  const [baseline, size] = ["y", "font-size"].map((name) => Number(text.getAttribute(name)));
  return { x: box.x, width: box.width, y: baseline - 0.75 * size, height: 0.8 * size };
}

// Puts a bracket around a bar wherever it is drawn: what comes from the text between two places.
export function bracket(name, from, to, { width, colour, scroll }) {
  for (const old of place.querySelectorAll(`.bracket-${name}`)) old.remove();
  if (from === null) return;
  let first = null;
  for (const page of place.children) {
    const rows = new Map();
    for (const item of page.querySelectorAll("[data-from]")) {
      const begins = Number(item.dataset.from);
      if (begins < from || begins >= to || !MARKED.includes(item.dataset.role)) continue;
      const box = inkOf(item);
      if (!box.width && !box.height) continue;
      const row = [...rows.keys()].find((y) => Math.abs(y - box.y) < 120) ?? box.y;
      const old = rows.get(row) ?? { left: Infinity, right: -Infinity, top: Infinity, bottom: -Infinity };
      rows.set(row, {
        left: Math.min(old.left, box.x), right: Math.max(old.right, box.x + box.width),
        top: Math.min(old.top, box.y), bottom: Math.max(old.bottom, box.y + box.height),
      });
    }
    for (const { left, right, top, bottom } of rows.values()) {
      const mark = document.createElementNS(SVG, "path");
      const [l, r, t, b] = [left - 4, right + 4, top - 3, bottom + 3];
      mark.setAttribute("d", `M${l + 5} ${t}H${l}V${b}H${l + 5}M${r - 5} ${t}H${r}V${b}H${r - 5}`);
      mark.setAttribute("fill", "none");
      mark.setAttribute("stroke", colour);
      mark.setAttribute("stroke-width", width);
      mark.setAttribute("class", `bracket-${name}`);
      page.querySelector("g").append(mark);
      first ??= mark;
    }
  }
  if (scroll && first) {
    const box = first.getBoundingClientRect();
    const frame = place.getBoundingClientRect();
    if (box.top < frame.top || box.bottom > frame.bottom) place.scrollTop += box.top - frame.top - frame.height / 4;
  }
}
