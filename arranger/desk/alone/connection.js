// The way to the engine and to the songs where nothing is installed: a worker that runs the program, the browser's store.

const NOTHING_KEPT = "this browser keeps nothing here (a private window, or a full disk): take the text along as a file";
const LONGEST = 10_000; // milliseconds for an answer about a song
const EACH = 2_000; // more for each song of an evening whose book or studies are made
const MOST_EACH = 300_000; // more at most
const OF_AN_EVENING = ["order", "evening", "book", "practise"]; // questions that take the songs of a running order
const TOGETHER = ["book", "practise"];
const FIRST = 120_000; // for the first one, in which everything is loaded
const KEPT = { name: "songs and settings", version: 1 };

export class Refused extends Error {
  constructor(message, status, answer) {
    super(message);
    this.status = status;
    this.answer = answer;
  }
}

// --- the engine -----------------------------------------------------------------------------------------------------

let worker = null;
let warm = false;
let number = 0;
let turn = Promise.resolve();
const newest = {};

function begin() {
  worker = new Worker(new URL("worker.js", import.meta.url), { type: "module" });
  warm = false;
}

function asked(question) {
  return new Promise((settle, fail) => {
    if (worker === null) begin();
    const own = (number += 1);
    const ended = (message) => {
      worker?.terminate();
      worker = null;
      fail(new Refused(message, 0, null));
    };
    const more = TOGETHER.includes(question.ask) ? Math.min(EACH * (question.count ?? 0), MOST_EACH) : 0;
    const allowed = LONGEST + more;
    const timer = setTimeout(() => ended(warm
      ? `this took more than ${allowed / 1000} seconds and was ended; the pages stay as they were`
      : "the program could not be started within two minutes"), warm ? allowed : FIRST + more);
    worker.onerror = (event) => {
      clearTimeout(timer);
      ended(`the program could not be started: ${event.message ?? "its files are missing"}`);
    };
    worker.onmessage = ({ data }) => {
      if (data.number !== own) return;
      clearTimeout(timer);
      warm = true;
      if (data.fault) fail(new Refused(data.fault, 0, null));
      else settle(data.bytes ?? JSON.parse(data.json));
    };
    worker.postMessage({ number: own, question: JSON.stringify(question) });
  });
}

// Puts the songs that a running order names into a question about it.
async function withSongs(question) {
  const named = await engine.ask({ ask: "named", text: question.text });
  if (!named.files) return { ...question, songs: [], count: 0 };
  const given = await Promise.all(named.files.map(async (file) => {
    const name = fromOrder(question.name, file);
    if (name === null) return [file, null, `expected a song that is kept here, found ${file}`, ""];
    return [file, (await songs.read(name)) ?? null, "", ""];
  }));
  return { ...question, songs: given, count: named.count };
}

// The name of a song that a running order names from its own place; null where it leads elsewhere.
function fromOrder(order, file) {
  const parts = order.split("/").slice(0, -1);
  for (const part of file.split("/")) {
    if (part === "..") {
      if (parts.pop() === undefined) return null;
    } else if (part !== ".") parts.push(part);
  }
  const name = parts.join("/");
  return file.startsWith("/") || !name.endsWith(".song.txt") ? null : name;
}

export const engine = {
  // Questions wait for each other; of those for pages the newest alone is answered.
  async ask(question) {
    if (OF_AN_EVENING.includes(question.ask) && !question.songs) return engine.ask(await withSongs(question));
    const own = (newest[question.ask] = (newest[question.ask] ?? 0) + 1);
    const before = turn;
    let done;
    turn = new Promise((settle) => { done = settle; });
    await before;
    try {
      if (question.ask === "pages" && own !== newest.pages) return { outdated: true };
      return await asked({ ...question, settings: await settings() });
    } finally {
      done();
    }
  },
};

// --- the store ------------------------------------------------------------------------------------------------------

let opened = null;

function database() {
  opened ??= new Promise((settle, fail) => {
    let asking;
    try {
      asking = indexedDB.open(KEPT.name, KEPT.version);
    } catch {
      fail(new Refused(NOTHING_KEPT, 0, null));
      return;
    }
    asking.onupgradeneeded = () => {
      asking.result.createObjectStore("songs");
      asking.result.createObjectStore("settings");
    };
    asking.onsuccess = () => settle(asking.result);
    asking.onerror = () => fail(new Refused(NOTHING_KEPT, 0, null));
  });
  opened.catch(() => { opened = null; });
  return opened;
}

async function transaction(name, mode, work) {
  const base = await database();
  return new Promise((settle, fail) => {
    const own = base.transaction(name, mode);
    let result;
    const refuse = () => {
      const full = own.error?.name === "QuotaExceededError";
      fail(new Refused(full ? "there is no room left in this browser's store; nothing was lost: take the text along as a file" : NOTHING_KEPT, 0, null));
    };
    own.oncomplete = () => settle(result);
    own.onabort = refuse;
    own.onerror = refuse;
    work(own.objectStore(name), (found) => { result = found; });
  });
}

const request = (asking, then) => { asking.onsuccess = () => then(asking.result); };

async function settings() {
  try {
    return (await transaction("settings", "readonly", (store, give) => request(store.get("player.toml"), give))) ?? "";
  } catch {
    return ""; // then the defaults hold
  }
}

const digest = async (text) => {
  const bytes = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  return Array.from(new Uint8Array(bytes), (byte) => byte.toString(16).padStart(2, "0")).join("");
};

// Songs in the browser's own store: each with its text and the one before.
const inBrowser = {
  all: () => transaction("songs", "readonly", (store, give) => {
    request(store.getAllKeys(), (names) => request(store.getAll(), (songs) => give(names.map((name, at) => [name, songs[at].text]))));
  }),
  read: (name) => transaction("songs", "readonly", (store, give) => request(store.get(name), (song) => give(song?.text))),
  write: (name, text, before) => transaction("songs", "readwrite", (store, give) => {
    request(store.get(name), (song) => {
      give((song?.text ?? null) === before);
      if ((song?.text ?? null) === before) store.put({ text, before }, name);
    });
  }),
};

// Songs in a folder that the player opens, where the browser can.
const inFolder = (folder) => ({
  async all() {
    const found = [];
    for await (const [name, entry] of folder.entries()) {
      if (entry.kind === "file" && /\.(song|set)\.txt$/.test(name)) found.push([name, await (await entry.getFile()).text()]);
    }
    return found;
  },
  async read(name) {
    try {
      return await (await (await folder.getFileHandle(name)).getFile()).text();
    } catch {
      return undefined;
    }
  },
  async write(name, text, before) {
    const now = await this.read(name);
    if ((now ?? null) !== before) return false;
    if (before !== null) await put(folder, `${name}.before-save`, before);
    await put(folder, name, text);
    return true;
  },
});

async function put(folder, name, text) {
  const file = await (await folder.getFileHandle(name, { create: true })).createWritable(); // whole or not at all
  await file.write(text);
  await file.close();
}

let songs = inBrowser;

export const canOpenFolder = "showDirectoryPicker" in globalThis;

// Works on the songs of a folder that the player chooses; gives its name.
export async function openFolder(pick = () => globalThis.showDirectoryPicker({ mode: "readwrite" })) {
  const folder = await pick();
  songs = inFolder(folder);
  return folder.name;
}

export const store = {
  songs: async (words) => engine.ask({ ask: "search", words, songs: await songs.all() }),
  async read(name) {
    const text = await songs.read(name);
    if (text === undefined) throw new Refused(`there is no song ${name} here`, 404, null);
    return { text: text.replace(/\r\n?/g, "\n"), version: await digest(text) };
  },
  async save(name, text, version) {
    const before = (await songs.read(name)) ?? null;
    const now = before === null ? "" : await digest(before);
    if (now !== version || !(await songs.write(name, text, before))) return { conflict: now };
    navigator.storage?.persist?.().catch(() => {}); // asks the browser not to make room by losing them
    return { version: await digest(text) };
  },
  async keepSettings(values) {
    const before = await settings();
    const found = await engine.ask({ ask: "filled", values, settings: before });
    if (!found.problems?.length && found.settings !== undefined) {
      await transaction("settings", "readwrite", (kept) => { kept.put(found.settings, "player.toml"); });
    }
    return found;
  },
  async font(family) {
    const answer = await fetch(new URL(`../fonts/${family}.ttf`, import.meta.url));
    if (!answer.ok) throw new Refused(`there is no font ${family}`, answer.status, null);
    return answer.arrayBuffer();
  },
  here: async () => ({}),
  // All songs as one file.
  archive: async () => engine.ask({ ask: "archive", songs: await songs.all() }),
};

// --- offline --------------------------------------------------------------------------------------------------------

// Keeps the page for use without a network; calls back when another version is there.
export async function keepOffline(ready, changed) {
  if (!("serviceWorker" in navigator)) return;
  try {
    const kept = await navigator.serviceWorker.register(new URL("../offline.js", import.meta.url), { scope: new URL("../", import.meta.url).pathname });
    kept.addEventListener("updatefound", () => {
      const coming = kept.installing;
      const there = Boolean(navigator.serviceWorker.controller);
      coming.addEventListener("statechange", () => { if (coming.state === "activated" && there) changed(); });
    });
    await navigator.serviceWorker.ready;
    ready();
  } catch {
    // a place that is neither https nor this machine: the page works, but not without a network
  }
}
