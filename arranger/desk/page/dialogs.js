// The dialogs: the folder's songs, a new song, saving, the player's settings.

import * as connection from "./connection.js";
import { empty } from "./order_text.js";

const { engine, store } = connection;

const element = (id) => document.getElementById(id);
const SHORTEST = "song  New song\nkey   C\ntempo 80\n\nsection Verse\n| C | Am | F | G |\nsing | type the | words be- | neath the | chords |\n";
const SWITCH = { true: "yes", false: "no" }; // what the file of settings has, as the form shows it
const SCORES = /\.(musicxml|mxl|xml)$/i;

function option(words, action) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = words;
  made.addEventListener("click", action);
  return made;
}

export function give(bytes, name, type) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([bytes], { type }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

export function openDialogs({ song, openText, leave, saveAs, question, settingsKept }) {
  // --- songs ---
  const list = element("songs-list");
  let searched = 0;

  async function search() {
    const number = (searched += 1);
    let found;
    try {
      found = await store.songs(element("words").value);
    } catch (fault) {
      element("songs-told").textContent = fault.message;
      return;
    }
    if (number !== searched) return;
    list.replaceChildren(...found.songs.map((one) => row(one, one.place && ` ${one.place[0]}: ${one.place[1]}`, one.key, one.tempo)));
    const orders = found.orders ?? [];
    element("orders-list").replaceChildren(...orders.map((one) => row(one, one.place && ` ${one.place}`, one.date, one.songs)));
    element("orders-table").hidden = orders.length === 0;
    const more = found.total > found.songs.length ? `; these are ${found.songs.length} of ${found.total}` : "";
    element("songs-told").textContent = [found.total ? `${found.total} song${found.total === 1 ? "" : "s"} found${more}` : "no song here has these words", ...found.told].join("; ");
  }

  // A row of a list: what leads there, with what stands behind it, some facts, and how many mistakes there are.
  function row(one, behind, ...facts) {
    const made = document.createElement("tr");
    const title = document.createElement("td");
    title.append(option(one.title || one.name, () => open(one.name)));
    if (behind) {
      const where = document.createElement("small");
      where.textContent = behind;
      title.append(where);
    }
    const wrong = one.errors ? `${one.errors} mistake${one.errors === 1 ? "" : "s"}` : "";
    made.append(title, ...[...facts, wrong].map((words) => {
      const cell = document.createElement("td");
      cell.textContent = words ?? "";
      return cell;
    }));
    return made;
  }

  async function open(name) {
    if (!leave()) return;
    try {
      const opened = await store.read(name);
      element("songs-dialog").close();
      openText(opened.text, { name, version: opened.version });
    } catch (fault) {
      element("songs-told").textContent = fault.message;
    }
  }

  element("songs-button").addEventListener("click", () => { element("songs-dialog").showModal(); search(); });
  element("words").addEventListener("input", search);
  element("open-folder").hidden = !connection.canOpenFolder;
  element("open-folder").addEventListener("click", async () => {
    try {
      element("songs-told").textContent = await connection.openFolder();
      search();
    } catch (fault) {
      if (fault.name !== "AbortError") element("songs-told").textContent = fault.message;
    }
  });
  element("archive").hidden = !store.archive;
  element("archive").addEventListener("click", async () => {
    try {
      give(await store.archive(), "songs.zip", "application/zip");
    } catch (fault) {
      element("songs-told").textContent = fault.message;
    }
  });
  element("words").addEventListener("keydown", (event) => { if (event.key === "Enter") event.preventDefault(); });

  // --- a new song ---
  async function begin() {
    element("start-told").textContent = "";
    element("start-dialog").showModal();
    try {
      const { samples } = await engine.ask({ ask: "samples" });
      element("samples").replaceChildren("Samples: ", ...samples.flatMap((one) => [option(one.title, () => start(one.text)), " "]));
    } catch (fault) {
      element("start-told").textContent = fault.message;
    }
  }

  function start(text, checks = [], kind = "song") {
    if (!leave()) return;
    element("start-dialog").close();
    element("songs-dialog").close();
    openText(text, { checks, kind });
    element(kind === "order" ? "order-set" : "text").focus();
  }
  for (const id of ["new-order", "start-order"]) element(id).addEventListener("click", () => start(empty("An evening"), [], "order"));

  async function convert(asked) {
    const found = await engine.ask(asked);
    if (found.song) {
      start(found.song, found.checks);
      return;
    }
    const problems = (found.problems ?? []).map((one) => [one.message, ...one.hints].join("; "));
    element("start-told").textContent = problems.join(". ") || found.failed || found.bad || "nothing was found in it";
  }

  async function given(file) {
    const name = file.name;
    if (file.size > 1 << 19) throw new Error(`${name} has ${file.size} bytes, more than a song or a sheet has`);
    if (SCORES.test(name)) {
      const bytes = new Uint8Array(await file.arrayBuffer());
      const data = btoa(Array.from(bytes, (byte) => String.fromCharCode(byte)).join(""));
      await convert({ ask: "score", name, data });
      return;
    }
    const text = await file.text();
    const { sheet } = await engine.ask({ ask: "sheet", text });
    if (name.endsWith(".set.txt")) start(text.replace(/\r\n?/g, "\n"), [], "order");
    else if (sheet && !name.endsWith(".song.txt")) await convert({ ask: "convert", text, name, title: name.replace(/\.[^.]*$/, "") });
    else start(text.replace(/\r\n?/g, "\n"));
  }

  element("start-button").addEventListener("click", begin);
  element("new-song").addEventListener("click", () => start(SHORTEST));
  element("convert").addEventListener("click", () => {
    const text = element("sheet").value;
    convert({ ask: "convert", text, name: "sheet" }).catch((fault) => { element("start-told").textContent = fault.message; });
  });
  element("file").addEventListener("change", (event) => {
    const [file] = event.target.files;
    if (file) given(file).catch((fault) => { element("start-told").textContent = fault.message; });
    event.target.value = "";
  });

  // --- saving ---
  const name = element("save-name");
  let elsewhere = "";
  const ending = () => (song.kind === "order" ? ".set.txt" : ".song.txt");
  const stem = (file) => (file.endsWith(ending()) ? file.slice(0, -ending().length) : file);

  function ask(message, conflict) {
    element("save-told").textContent = message;
    element("save-ending").textContent = ending();
    element("save-anyway").hidden = element("save-reload").hidden = !conflict;
    if (!element("save-dialog").open) element("save-dialog").showModal();
  }

  async function save(file, version) {
    try {
      const found = await saveAs(file, version);
      if (found.conflict === undefined) {
        element("save-dialog").close();
        return;
      }
      elsewhere = found.conflict;
      name.value = stem(file);
      ask(version === "" ? `there is a file ${file} already` : `${file} was changed elsewhere since it was opened`, true);
    } catch (fault) {
      ask(fault.message, false);
    }
  }

  function startSaving() {
    if (song.name) {
      save(song.name, song.version);
      return;
    }
    name.value = (song.title || (song.kind === "order" ? "an evening" : "new song")).toLowerCase().replace(/[\\/:*?"<>|.]/g, " ").trim();
    ask("", false);
  }

  const typed = () => `${stem(name.value.trim())}${ending()}`;
  element("save-button").addEventListener("click", startSaving);
  addEventListener("keydown", (event) => {
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "s") {
      event.preventDefault();
      startSaving();
    }
  });
  element("save-form").addEventListener("submit", (event) => {
    event.preventDefault();
    save(typed(), typed() === song.name ? song.version : "");
  });
  element("save-anyway").addEventListener("click", () => save(typed(), elsewhere));
  element("save-reload").addEventListener("click", async () => {
    try {
      const opened = await store.read(typed());
      element("save-dialog").close();
      openText(opened.text, { name: typed(), version: opened.version });
    } catch (fault) {
      ask(fault.message, false);
    }
  });
  element("save-text").addEventListener("click", () => give(element("text").value, typed(), "text/plain"));
  element("save-cancel").addEventListener("click", () => element("save-dialog").close());

  // --- settings ---
  const words = (problems) => problems.map((one) => [one.message, ...one.hints].join("; ")).join(". ");

  element("settings-button").addEventListener("click", async () => {
    element("settings-told").textContent = "";
    element("settings-fields").replaceChildren(); // what is typed into those of the last time would be lost
    element("settings-dialog").showModal();
    try {
      const found = await engine.ask(question("settings"));
      let table = "";
      const fields = [];
      for (const one of found.fields) {
        if (one.table !== table) {
          table = one.table;
          const heading = document.createElement("h3");
          heading.textContent = table;
          fields.push(heading);
        }
        const label = document.createElement("label");
        const field = document.createElement(one.choices.length ? "select" : "input");
        for (const choice of one.choices) field.append(new Option(SWITCH[choice] ?? choice, choice));
        field.name = one.name;
        field.value = one.value;
        field.dataset.before = field.value;
        const says = document.createElement("small");
        says.textContent = one.says.replace(/^(true|false)(?=:)|(?<=; )(true|false)(?=:)/g, (word) => SWITCH[word]);
        label.append(one.name.split(".")[1].replaceAll("_", " "), field, says);
        fields.push(label);
      }
      element("settings-fields").replaceChildren(...fields);
      element("settings-told").textContent = words(found.problems);
    } catch (fault) {
      element("settings-told").textContent = fault.message;
    }
  });
  element("settings-form").addEventListener("submit", async (event) => {
    event.preventDefault();
    const values = {};
    for (const field of element("settings-fields").querySelectorAll("input, select")) {
      if (field.value !== field.dataset.before) values[field.name] = field.value;
    }
    try {
      const found = await store.keepSettings(values);
      const wrong = found.bad ?? found.failed ?? words(found.problems);
      if (wrong) element("settings-told").textContent = wrong;
      else {
        element("settings-dialog").close();
        settingsKept();
      }
    } catch (fault) {
      element("settings-told").textContent = fault.message;
    }
  });
  element("settings-cancel").addEventListener("click", () => element("settings-dialog").close());

  return { begin };
}
