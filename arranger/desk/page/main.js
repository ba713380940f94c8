// The desk: what is typed is asked about, and the newest answer is shown.

import * as connection from "./connection.js";
import * as editor from "./editor.js";
import * as pages from "./pages.js";
import * as listen from "./listen.js";
import { rendered } from "./sound.js";
import { openDialogs } from "./dialogs.js";
import { showProblems, showChecks, showChord } from "./beside.js";
import * as evening from "./evening.js";
import { takingAlong } from "./along.js";

const { engine, store, Refused } = connection;
const element = (id) => document.getElementById(id);
const day = element("day");
const PAUSE = 25; // milliseconds after a key before it is asked about: keys of one moment are one question
const HANDS = ["chord", "hand", "left hand", "finger", "staff", "resolution"]; // what leads to why a chord has its hand
const HEARTBEAT = 60_000; // milliseconds

const song = { name: "", version: "", saved: "", title: "", kind: "song" }; // kind: song, or order (of an evening)
const isOrder = () => song.kind === "order";
let answer = { problems: [], bars: [], colours: [] };
let heard = null; // the performance of the text, once it was asked for
let asked = 0;
let busy = false;
let waiting = 0;
let settingsChanged = 0;

// --- asking ---------------------------------------------------------------------------------------------------------

export function question(ask, more = {}) {
  const copy = day.elements.copy.value;
  const chosen = { easy: day.elements.easy.checked };
  for (const field of day.querySelectorAll(`[data-copy~="${copy}"]`)) {
    if (touched.has(field.name)) chosen[field.name] = field.type === "checkbox" ? (field.checked ? "yes" : "no") : field.value;
  }
  for (const name of BESIDE) delete chosen[name];
  if (!chosen.easy) {
    if (touched.has("suspensions")) chosen.suspensions = day.elements.suspensions.checked ? "1/6" : "0";
    if (touched.has("octaves")) chosen.octaves = day.elements.octaves.checked ? "phrase" : "none";
  }
  const asked = { ask, text: editor.value(), name: song.name || (isOrder() ? "evening.set.txt" : "song.song.txt"), copy, day: chosen };
  if (copy === "study") Object.assign(asked, { minutes: minutes(), sheets: Number(day.elements.sheets.value) });
  if (isOrder()) asked.facing = mayFace() && day.elements.facing.checked;
  else asked.key = day.elements.key.value;
  return { ...asked, ...more };
}
const BESIDE = ["minutes", "sheets", "facing"]; // what is no choice over the player's settings
const minutes = () => Math.min(60, Math.max(3, Math.round(Number(day.elements.minutes.value)) || 15));
// Songs of two pages can lie side by side where a sheet has one page: not on a tablet, not two on a sheet.
const mayFace = () => isOrder() && day.elements.copy.value !== "study"
  && (day.elements.copy.value === "part" || ["a4", "letter", "a5"].includes(day.elements.stage_paper.value));
const touched = new Set(); // what was chosen today: the rest is as the player's settings have it

function soon() {
  heard = null;
  clearTimeout(waiting);
  waiting = setTimeout(update, PAUSE);
  told();
}

async function update() {
  if (busy) return; // the answer that is on its way asks again
  busy = true;
  const number = (asked += 1);
  const content = editor.value();
  const now = () => JSON.stringify(question(isOrder() ? "order" : "pages"));
  const wished = now();
  try {
    const found = await engine.ask(JSON.parse(wished));
    if (found.failed || found.bad) state(found.failed ?? found.bad);
    else if (isOrder() && content === editor.value()) await takeOrder(found, () => now() === wished && !settingsChanged);
    else if (!isOrder() && !found.outdated) await take(found, content);
  } catch (fault) {
    say(fault);
  }
  busy = false;
  if (number !== asked || now() !== wished || settingsChanged) {
    settingsChanged = 0;
    update();
  }
}

async function take(found, content) {
  if (content !== editor.value()) { // it is of an older text: its pages are a step on the way, its places are not
    if (found.pages) await pages.show(found.pages, found.families);
    return;
  }
  answer = found;
  keys(found);
  named(found);
  if (found.pages) {
    await pages.show(found.pages, found.families);
    state(found.said);
    markCursor(false);
  } else {
    pages.outdated();
    state(editor.value().trim() ? "these pages are from before the mistake" : "");
  }
  document.body.dataset.shown = String(Number(document.body.dataset.shown ?? 0) + 1);
}

// Shows what is said of the whole text: its name, its colours, what is wrong.
function named(found) {
  editor.paint(found.colours, found.problems);
  showProblems(found.problems, editor, isOrder() ? (file) => openSong(evening.inFolder(file)) : null);
  settingsShown(found.day);
  song.title = found.title;
  element("title").textContent = found.title || "Desk";
  document.title = found.title ? `${found.title} – Desk` : "Desk";
}

// Takes what is said of a running order, then shows its pages as they are made, unless another is waited for.
async function takeOrder(found, wanted) {
  answer = { problems: found.problems, bars: [], colours: found.colours };
  const begun = found.count || found.problems.some((one) => one.code !== "empty-set");
  named(begun ? found : { ...found, problems: [] });
  evening.take(found);
  if (found.whole) {
    let made;
    if (day.elements.copy.value === "study") {
      state("the study is made");
      made = await engine.ask(question("practise"));
      if (!wanted()) return;
      if (made.pages) {
        evening.otherPages();
        await pages.show(made.pages, made.families);
        state(made.said);
      }
    } else {
      made = await evening.showPages(question, found.count, wanted, state);
      if (made === null) return;
    }
    if (made.failed || made.bad) {
      state(made.failed ?? made.bad);
      return;
    }
    if (made.problems.length > found.problems.length) named({ ...found, problems: made.problems });
    if (!made.pages) found.whole = false;
  }
  if (!found.whole) {
    pages.outdated();
    state(found.count ? "these pages are from before the mistake" : "");
  }
  document.body.dataset.shown = String(Number(document.body.dataset.shown ?? 0) + 1);
}

function keys(found) {
  const field = day.elements.key;
  const before = field.value;
  const wanted = ["", ...found.keys.slice(1)].join();
  if (field.dataset.keys === wanted || !found.keys.length) return;
  field.dataset.keys = wanted;
  field.replaceChildren(...["", ...found.keys.slice(1)].map((key) => new Option(key || `${found.key} (its own)`, key)));
  field.value = found.keys.includes(before) ? before : "";
}

// Shows what the player's settings have where nothing else was chosen today.
function settingsShown(shown) {
  for (const [name, value] of Object.entries(shown)) {
    const field = day.elements[name];
    if (touched.has(name) || (name in { suspensions: 1, octaves: 1 } && day.elements.easy.checked)) continue;
    if (field.type === "checkbox") field.checked = value;
    else {
      if (![...field.options].some((option) => option.value === value)) field.append(new Option(value));
      field.value = value;
    }
  }
}

function state(words) {
  element("page-state").textContent = words;
}

function say(fault) {
  state(fault instanceof Refused ? fault.message : `something went wrong: ${fault.message}`);
}

// --- cursor, pages, chord -------------------------------------------------------------------------------------------

// The bar that a place of the text is in: up to the next bar of its line, the barlines with it.
function barAt(place) {
  const bar = answer.bars.findLast(([from]) => from <= place + 1);
  return bar && !editor.value().slice(bar[0], place).includes("\n") ? bar : null;
}

function markCursor(scroll = true) {
  if (isOrder() || day.elements.copy.value === "study") return;
  const bar = barAt(editor.cursor());
  pages.bracket("cursor", bar ? bar[0] : null, bar ? bar[1] : null, { width: 1, colour: "#777", scroll });
}

async function why(place) {
  try {
    const found = await engine.ask(question("why", { at: place }));
    showChord(found, editor);
  } catch (fault) {
    say(fault);
  }
}

pages.onClick((from, to, role) => {
  editor.goTo(from, to);
  markCursor(false);
  if (HANDS.includes(role) && day.elements.copy.value !== "study") why(from);
});
editor.onCursor(() => markCursor());
element("text").addEventListener("keydown", (event) => {
  if (event.altKey && event.key === "Enter" && !isOrder()) {
    event.preventDefault();
    why(editor.cursor());
  }
});

// --- listening ------------------------------------------------------------------------------------------------------

const listenButton = element("listen-button");

export async function performance_() {
  heard ??= await engine.ask(question("listen"));
  return heard;
}

listenButton.addEventListener("click", async () => {
  if (listen.isPlaying()) {
    listen.stop();
    return;
  }
  try {
    const found = await performance_();
    if (!found.notes) {
      heard = null;
      state("there is nothing to hear before the mistakes are mended");
      return;
    }
    listenButton.textContent = "Stop";
    await listen.play(found, {
      place: element("from-bar").checked ? editor.cursor() : null,
      countIn: element("count-in").checked,
      speed: Number(element("speed").value),
      parts: () => new Set([...document.querySelectorAll("[data-heard]:checked")].map((box) => box.dataset.heard)),
      onBar: (from, to) => pages.bracket("sounding", from, to, { width: 2.5, colour: "#000", scroll: true }),
      ended: () => {
        listenButton.textContent = "Listen";
        pages.bracket("sounding", null, null, {});
      },
    });
    if (found.free) state("the song has no tempo of its own: it sounds at 80");
  } catch (fault) {
    listenButton.textContent = "Listen";
    say(fault);
  }
});

// --- the song on the disk -------------------------------------------------------------------------------------------

const DRAFT = "desk draft";

function told() {
  const changed = editor.value() !== song.saved;
  element("saved").textContent = changed ? "not saved" : song.name ? `saved: ${song.name}` : "";
  sessionStorage.setItem(DRAFT, JSON.stringify({ ...song, text: editor.value() }));
}

export function openText(text, { name = "", version = "", saved = null, checks = [], kind = "song" } = {}) {
  listen.stop();
  Object.assign(song, { name, version, saved: saved ?? (name ? text : ""), kind: name.endsWith(".set.txt") ? "order" : kind });
  day.elements.key.value = "";
  editor.nameIt(name);
  editor.open(text);
  evening.forget();
  evening.show(isOrder(), openSong);
  pages.clear();
  choices();
  showChecks(checks, editor);
  showChord({ chord: null }, editor);
  soon();
}

export const leave = () => editor.value() === song.saved || !editor.value().trim()
  || confirm(isOrder() ? "This running order is not saved. Leave it?" : "This song is not saved. Leave it?");

export async function saveAs(name, version) {
  const text = isOrder() ? evening.textFor(name) : editor.value();
  const found = await store.save(name, text, version);
  if (found.conflict === undefined) {
    Object.assign(song, { name, version: found.version, saved: text });
    editor.nameIt(name);
    if (text !== editor.value()) editor.change(0, editor.value().length, text);
    told();
  }
  return found;
}

addEventListener("beforeunload", (event) => {
  if (editor.value() !== song.saved && editor.value().trim()) event.preventDefault();
});

// --- beginning ------------------------------------------------------------------------------------------------------

editor.onInput(() => {
  if (isOrder()) evening.draw();
  soon();
});
day.addEventListener("change", (event) => {
  if (event.target.name) touched.add(event.target.name);
  if (event.target.name === "copy") pages.toTop(); // other pages: their first one
  choices();
  soon();
});
day.addEventListener("submit", (event) => event.preventDefault());

function choices() {
  const copy = day.elements.copy.value;
  for (const field of day.querySelectorAll("[data-copy]")) field.closest("label").hidden = !field.dataset.copy.split(" ").includes(copy);
  day.elements.facing.closest("label").hidden = !mayFace();
  day.elements.key.closest("label").hidden = isOrder();
  element("midi-button").hidden = isOrder() && copy !== "study";
  element("musicxml-button").hidden = isOrder() || copy === "study";
  element("text").setAttribute("aria-label", isOrder() ? "The running order as text" : "The song as text");
  if (isOrder()) element("text").removeAttribute("aria-describedby");
  else element("text").setAttribute("aria-describedby", "text-help");
}

async function openSong(name) {
  if (!leave()) return;
  try {
    const opened = await store.read(name);
    openText(opened.text, { name, version: opened.version });
  } catch (fault) {
    say(fault);
  }
}

takingAlong({ song, day, question, isOrder, state, say });
const dialogs = openDialogs({ song, openText, leave, saveAs, question, settingsKept: () => { settingsChanged = 1; soon(); } });
choices();
const draft = JSON.parse(sessionStorage.getItem(DRAFT) ?? "null");
if (draft?.text) {
  openText(draft.text, { name: draft.name, version: draft.version, saved: draft.saved, kind: draft.kind });
} else {
  told();
  dialogs.begin();
}
setInterval(() => store.here().catch(say), HEARTBEAT);
connection.keepOffline?.(
  () => { document.body.dataset.offline = "yes"; },
  () => state("there is a new version of this page: open it again when you like; your songs stay"),
);
document.body.dataset.ready = "yes";

// For who looks at the sound without hearing it.
globalThis.desk = { rendered, performance: performance_, text: editor.value };
