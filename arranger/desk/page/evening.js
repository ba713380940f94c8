// A running order as a list to put together by hand, and its pages, song by song. The text is what counts: what is done
// here changes it, as if it were typed.

import { engine, store } from "./connection.js";
import * as editor from "./editor.js";
import * as pages from "./pages.js";
import * as order from "./order_text.js";

const element = (id) => document.getElementById(id);
const side = element("order");
const list = element("order-list");
const WAYS = [["stop", "stop"], ["attacca", "attacca"], ["pad", "pad holds"], ["talk", "talk"]];
const TYPING = 700; // milliseconds between two letters
const TALK = 30; // seconds, until others are typed

let open = () => {}; // opens a song
let facts = {}; // of songs by their files: title, key, keys that it may be played in
let problems = [];
let found = []; // songs of the folder that were looked up
let searched = 0;
let titles = new Map(); // of the songs of the folder by their names
let drawnPages = []; // for each page the number of its song, null for the order
let shownAlready = null; // the row whose controls show a change that is being made
let here = null; // the song whose page was clicked last

function make(tag, words, more = {}) {
  const made = document.createElement(tag);
  made.textContent = words;
  Object.assign(made, more);
  return made;
}

function button(words, label, action) {
  const made = make("button", words, { type: "button" });
  if (label) made.setAttribute("aria-label", label);
  made.addEventListener("click", action);
  return made;
}

// The path of a song of the folder from the place of a running order: its own, or another that it is saved in.
export function fromOrder(name, from = editor.named()) {
  const own = from.split("/").slice(0, -1);
  const parts = name.split("/");
  while (own.length && parts.length > 1 && own[0] === parts[0]) { own.shift(); parts.shift(); }
  return [...own.map(() => ".."), ...parts].join("/");
}

// The name in the folder of a song that the running order names.
export function inFolder(file) {
  const parts = editor.named().split("/").slice(0, -1);
  for (const part of file.split("/")) {
    if (part === "..") parts.pop();
    else if (part !== ".") parts.push(part);
  }
  return parts.join("/");
}

// The text as it is saved under a name: from another folder its songs have other paths. One from outside stays.
export function textFor(name) {
  const folder = (file) => file.split("/").slice(0, -1).join("/");
  if (folder(name) === folder(editor.named())) return editor.value();
  return order.withFiles(editor.value(), (file) => {
    const inside = !file.startsWith("/") && inFolder(file);
    return inside && fromOrder(inside) === file ? fromOrder(inside, name) : file;
  });
}

const titleOf = (file) => facts[file]?.title || titles.get(inFolder(file))?.title || file;

// --- changing ---------------------------------------------------------------------------------------------------------

// Whether a place is inside a character of two units.
const isHalf = (text, at) => /[\uDC00-\uDFFF]/.test(text[at] ?? "") && /[\uD800-\uDBFF]/.test(text[at - 1] ?? "");

// Changes the text to another as one edit, which can be undone; says what was done, and leaves the focus where it is
// wanted: at a control of a row. `own` is the row whose controls show the change already.
function change(text, told, row = null, control = "", own = null) {
  const before = editor.value();
  if (text === before) return;
  let from = 0;
  while (from < before.length && before[from] === text[from]) from += 1;
  while (from > 0 && isHalf(before, from)) from -= 1;
  let behind = 0;
  while (behind < Math.min(before.length, text.length) - from && before.at(-1 - behind) === text.at(-1 - behind)) behind += 1;
  while (behind > 0 && isHalf(before, before.length - behind)) behind -= 1;
  const [was, field] = focused();
  shownAlready = own;
  editor.quietly(() => editor.change(from, before.length - behind, text.slice(from, text.length - behind)));
  element("order-told").textContent = told;
  if (row !== null) focus(row, control);
  else if (was !== null) focus(was, field); // the row was drawn anew
}

// The row that has the focus, and its control; nulls where none has.
function focused() {
  const active = document.activeElement;
  if (!list.contains(active)) return [null, ""];
  return [[...list.children].findIndex((row) => row.contains(active)), active.dataset.control];
}

function focus(row, control) {
  const at = (name) => list.children[row]?.querySelector(`[data-control="${name}"]:not(:disabled)`);
  const wanted = at(control) ?? at({ up: "down", down: "up" }[control]) ?? at("out");
  (wanted ?? element("order-add").firstElementChild).focus();
}

function move(number, by) {
  const items = order.itemsOf(editor.value());
  const what = items[number].kind === "song" ? titleOf(items[number].value) : items[number].value;
  change(order.moved(editor.value(), number, by), `${what} is now ${number + by + 1} of ${items.length}`, number + by, by < 0 ? "up" : "down");
}

function takeOut(number) {
  const items = order.itemsOf(editor.value());
  const what = items[number].kind === "song" ? titleOf(items[number].value) : items[number].value;
  change(order.without(editor.value(), number), `${what} is taken out`, Math.min(number, items.length - 2), "out");
  if (items.length === 1) element("order-add").firstElementChild.focus();
}

// A list of choices is often typed at, letter after letter: what is chosen so is written when that pauses, or the focus
// goes elsewhere.
let pending = null;

function written() {
  if (pending === null) return;
  const { write, timer } = pending;
  pending = null;
  clearTimeout(timer);
  write();
}

function onChoice(field, write) {
  let typed = false;
  field.addEventListener("keydown", (event) => { typed = event.key.length === 1; });
  field.addEventListener("pointerdown", () => { typed = false; });
  field.addEventListener("change", () => {
    clearTimeout(pending?.timer);
    pending = { write, timer: setTimeout(written, typed ? TYPING : 0) };
    if (!typed) written();
  });
}

// --- the list ---------------------------------------------------------------------------------------------------------

// Shows the list of the text as it is now; what has the focus keeps it.
export function draw() {
  const text = editor.value();
  const [at, control] = focused();
  const items = order.itemsOf(text);
  let song = 0;
  const before = [...list.children];
  const count = before.length;
  const rows = items.map((item, number) => {
    const own = item.kind === "song" ? song : null;
    if (own !== null) song += 1;
    const shown = asShown(item, number, items.length, own);
    const kept = before[number];
    const typing = kept?.contains(document.activeElement) && document.activeElement.matches("input") && count === items.length;
    if (kept && (kept.dataset.shown === shown || number === shownAlready || typing)) {
      if (!typing || number === shownAlready) kept.dataset.shown = shown;
      return kept;
    }
    const made = row(item, number, items.length, own);
    made.dataset.shown = shown;
    return made;
  });
  shownAlready = null;
  rows.forEach((one, place) => { // rows that stay are not touched: whoever types in one goes on
    if (!before[place]) list.append(one);
    else if (before[place] !== one) before[place].replaceWith(one);
  });
  before.slice(rows.length).forEach((one) => one.remove());
  const head = order.headOf(text);
  for (const word of Object.keys(head)) {
    const field = element(`order-${word}`);
    if (document.activeElement !== field) field.value = head[word];
  }
  element("order-empty").hidden = items.length > 0;
  if (at !== null) list.children[at]?.querySelector(`[data-control="${control}"]`)?.focus();
}

const problemsOf = (item) => problems.filter((one) => one.line !== null && one.line > item.line && one.line <= item.end);

// What a row shows, as text: a row that shows the same stays.
function asShown(item, number, count, song) {
  const { line, end, ...facts_ } = item;
  const { title = "", keys = [] } = facts[item.value] ?? {};
  const told = problemsOf(item).map((one) => one.message);
  return JSON.stringify([facts_, number, count, song, titleOf(item.value), title, keys, told]);
}

function row(item, number, count, song) {
  const made = document.createElement("li");
  const isSong = item.kind === "song";
  const title = isSong ? titleOf(item.value) : item.value;
  made.dataset.song = song ?? "";
  made.classList.toggle("here", isSong && song === here);
  const shown = isSong
    ? button(String(song + 1), `the pages of ${title}`, () => { const at = drawnPages.indexOf(song); if (at >= 0) pages.scrollTo(at); })
    : make("span", "–");
  shown.className = "number";
  if (isSong) shown.dataset.control = "pages";
  const what = document.createElement("div");
  what.className = "what";
  if (isSong) {
    const name = button(title, `open ${title}`, () => open(inFolder(item.value)));
    name.dataset.control = "open";
    what.append(name);
  } else {
    const words = make("input", "", { value: item.value });
    words.setAttribute("aria-label", `words of break ${number + 1}`);
    words.dataset.control = "words";
    words.addEventListener("change", () => change(order.withWords(editor.value(), number, words.value), "", null, "", number));
    what.append(words);
  }
  for (const one of problemsOf(item)) what.append(make("small", one.message, { className: one.severity }));
  made.append(shown, what, buttons(number, count, title), choices(item, number, title, isSong));
  return made;
}

function choices(item, number, title, isSong) {
  const made = document.createElement("div");
  made.className = "choices";
  if (isSong) {
    const { key: home = "", keys = [] } = facts[item.value] ?? {};
    const key = document.createElement("select");
    key.dataset.control = "key";
    key.append(new Option(home ? `${home} (its own)` : "its own", ""), ...keys.slice(1).map((one) => new Option(one, one)));
    if (item.key && !keys.slice(1).includes(item.key)) key.append(new Option(item.key, item.key));
    key.value = item.key;
    key.setAttribute("aria-label", `key of ${title} that evening`);
    onChoice(key, () => change(order.withKey(editor.value(), number, key.value), "", null, "", number));
    made.append(label("key", key));
  }
  const way = document.createElement("select");
  way.dataset.control = "then";
  way.append(...WAYS.map(([value, words]) => new Option(words, value)));
  way.value = WAYS.some(([value]) => value === item.then) ? item.then : "stop";
  way.setAttribute("aria-label", `then, after ${title}`);
  const seconds = make("input", "", { type: "number", min: 1, max: 3600, value: item.seconds ?? TALK });
  seconds.dataset.control = "seconds";
  seconds.setAttribute("aria-label", `seconds of talk after ${title}`);
  const talk = label("s", seconds, true);
  const write = () => {
    talk.hidden = way.value !== "talk";
    change(order.withThen(editor.value(), number, way.value, Number(seconds.value) || TALK), "", null, "", number);
  };
  onChoice(way, write);
  seconds.addEventListener("change", write);
  talk.hidden = way.value !== "talk";
  made.append(label("then", way), talk);
  return made;
}

function label(words, field, behind = false) {
  const made = document.createElement("label");
  made.append(...(behind ? [field, ` ${words}`] : [`${words} `, field]));
  return made;
}

function buttons(number, count, title) {
  const made = document.createElement("div");
  made.className = "moves";
  const up = button("↑", `${title} up`, () => move(number, -1));
  const down = button("↓", `${title} down`, () => move(number, 1));
  const out = button("Take out", `take ${title} out`, () => takeOut(number));
  Object.assign(up, { disabled: number === 0 });
  Object.assign(down, { disabled: number === count - 1 });
  [[up, "up"], [down, "down"], [out, "out"]].forEach(([one, name]) => { one.dataset.control = name; });
  made.append(up, down, out);
  return made;
}

// --- songs to add -----------------------------------------------------------------------------------------------------

async function search() {
  const number = (searched += 1);
  try {
    const answer = await store.songs(element("order-words").value);
    if (number !== searched) return;
    found = answer.songs;
  } catch (fault) {
    element("order-told").textContent = fault.message;
    return;
  }
  for (const one of found) titles.set(one.name, one);
  element("order-found").replaceChildren(...found.map((one) => {
    const entry = document.createElement("li");
    const title = one.title || one.name;
    entry.append(
      button("Add", `add ${title}`, () => {
        const count = order.itemsOf(editor.value()).length + 1;
        change(order.withSong(editor.value(), fromOrder(one.name)), `${title} is added, ${count} of ${count}`);
      }),
      make("span", title),
      make("small", [one.key, one.tempo].filter(Boolean).join(", ")),
    );
    return entry;
  }));
  element("order-none").hidden = found.length > 0;
  draw();
}

// --- the pages --------------------------------------------------------------------------------------------------------

// Takes what the engine says of the text: shows what is wrong in its row, and the keys of each song.
export function take(answer) {
  facts = answer.facts;
  problems = answer.problems.filter((one) => one.severity === "error");
  draw();
}

let slots = { order: [], songs: [], blank: null, blanks: [], families: [] };

// Shows the pages of an evening of so many songs as they are made, one song at a time; stops where `wanted` says that
// another text is waited for. Gives what is wrong with pages, null where it was stopped.
export async function showPages(question, count, wanted, state) {
  slots.songs.length = Math.min(slots.songs.length, count);
  const fresh = [];
  for (let number = 0; number < count; number += 1) {
    if (count > 1) state(`the pages are made: song ${number + 1} of ${count}`);
    const made = await engine.ask(question("evening", { number }));
    if (!wanted()) return null;
    if (!made.pages) return made;
    slots.songs[number] = fresh[number] = made.pages;
    slots.families = [...new Set([...slots.families, ...made.families])];
    await put();
    if (!wanted()) return null;
  }
  const made = await engine.ask(question("evening", { counts: fresh.map((one) => one.length) }));
  if (!wanted()) return null;
  if (!made.pages) return made;
  Object.assign(slots, { order: made.pages, blank: made.blank, blanks: made.blanks });
  slots.families = [...new Set([...slots.families, ...made.families])];
  await put();
  state("");
  return made;
}

async function put() {
  const pictures = slots.order.length ? [...slots.order] : [sheetLike(slots.songs[0][0])];
  drawnPages = pictures.map(() => null);
  slots.songs.forEach((own, number) => {
    if (slots.blanks.includes(number) && slots.blank) {
      pictures.push(slots.blank);
      drawnPages.push(number);
    }
    pictures.push(...own);
    drawnPages.push(...own.map(() => number));
  });
  await pages.show(pictures, slots.families);
}

// An empty sheet that keeps the place of the order, which can be made last only.
const sheetLike = (picture) => `${/^<svg[^>]*>/.exec(picture)[0]}<g></g></svg>`;

// Says that other pages than those of the evening are shown.
export function otherPages() {
  drawnPages = [];
}

export function forget() {
  here = null;
  otherPages();
  slots = { order: [], songs: [], blank: null, blanks: [], families: [] };
  facts = {};
  problems = [];
}

// Leads from a page to the row of its song.
function lead(page) {
  const own = [...list.children].find((one) => one.dataset.song !== "" && Number(one.dataset.song) === drawnPages[page]);
  here = own ? drawnPages[page] : null;
  for (const one of list.children) one.classList.toggle("here", one === own);
  own?.scrollIntoView({ block: "nearest" });
}

// --- beginning --------------------------------------------------------------------------------------------------------

// Shows or hides the list; `openSong` opens a song by its name in the folder.
export function show(isOrder, openSong) {
  open = openSong;
  side.hidden = !isOrder;
  document.body.classList.toggle("evening", isOrder);
  if (isOrder) {
    element("order-told").textContent = "";
    element("order-add").open = order.itemsOf(editor.value()).length === 0;
    draw();
    search();
  }
}

export const isShown = () => !side.hidden;

for (const word of ["set", "date", "place"]) {
  const field = element(`order-${word}`);
  field.addEventListener("change", () => change(order.withHead(editor.value(), word, field.value), ""));
}
element("order-words").addEventListener("input", search);
element("order-search").addEventListener("submit", (event) => event.preventDefault());
element("order-break").addEventListener("click", () => {
  change(order.withBreak(editor.value(), "break"), "a break is added as the last", order.itemsOf(editor.value()).length, "words");
});
side.addEventListener("focusout", written);
addEventListener("keydown", (event) => { if (event.ctrlKey || event.metaKey) written(); }, true);
pages.onPage((page) => { if (isShown()) lead(page); });
