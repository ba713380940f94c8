// What stands beside the text: what is wrong, with its buttons; what is to be checked; what is said about a chord.

const element = (id) => document.getElementById(id);

function make(tag, words, more = {}) {
  const made = document.createElement(tag);
  made.textContent = words;
  Object.assign(made, more);
  return made;
}

function button(words, action) {
  const made = make("button", words, { type: "button" });
  made.addEventListener("click", action);
  return made;
}

// Makes an element of words in which what is typed stands between backticks.
function told(tag, words) {
  const made = document.createElement(tag);
  made.append(...words.split("`").map((part, number) => (number % 2 ? make("code", part) : part)));
  return made;
}

let toldBefore = "";

// Lists what is wrong; each leads to its place, and has a button where only one thing can have been meant. What is wrong
// with a song of a running order leads there by `openSong`.
export function showProblems(problems, editor, openSong = null) {
  const now = JSON.stringify(problems);
  if (now === toldBefore) return;
  toldBefore = now;
  const list = document.createElement("ul");
  for (const one of problems) {
    const entry = document.createElement("li");
    entry.className = one.severity;
    entry.append(make("strong", one.severity === "error" ? "mistake" : "look at this"), " ");
    if (one.from !== null) entry.append(button(`line ${one.line}`, () => editor.goTo(one.from, one.to)), " ");
    entry.append(told("span", one.message));
    for (const hint of one.hints) entry.append(told("div", hint));
    if (one.song && openSong) entry.append(" ", button("open the song", () => openSong(one.song)));
    if (one.fix) {
      const words = one.fix.text.trim() ? `write ${one.fix.text.trim()}` : "take it out";
      entry.append(" ", button(words, () => editor.change(one.fix.from, one.fix.to, one.fix.text)));
    }
    list.append(entry);
  }
  element("told").replaceChildren(...(problems.length ? [list] : []));
  editor.keepInSight();
}

const CHECK = /^# check(?:, line (\d+))?:?\s*/;

// Lists the places of a converted song that are to be checked, to step through; a place is done when its line is gone.
export function showChecks(checks, editor) {
  const side = element("checks");
  side.hidden = checks.length === 0;
  if (!checks.length) return;
  const list = document.createElement("ol");
  for (const one of checks) {
    const entry = document.createElement("li");
    entry.append(button("go there", () => {
      const at = editor.value().indexOf(one.text);
      if (at >= 0) editor.goTo(at, at + one.text.length);
    }), " ", told("span", one.text.replace(CHECK, (_, line) => (line ? `line ${line} of the sheet: ` : ""))), " ");
    const done = button("it is right", () => {
      const content = editor.value();
      const at = content.indexOf(one.text);
      if (at >= 0) {
        const start = content.lastIndexOf("\n", at) + 1;
        editor.change(start, Math.min(content.length, at + one.text.length + 1), "");
      }
      entry.remove();
      side.hidden = list.children.length === 0;
    });
    entry.append(done);
    list.append(entry);
  }
  side.replaceChildren(make("h2", `${checks.length} to check`), list);
}

// Shows why a chord has its hand, and what else can be written into the song.
export function showChord(found, editor) {
  const side = element("why");
  side.hidden = !found.chord && !found.problems?.length;
  if (side.hidden) return;
  if (!found.chord) {
    side.replaceChildren(make("p", "the mistakes must be mended first"));
    return;
  }
  const parts = [make("h2", found.chord), make("p", found.lines.join("; "))];
  const offers = (title, offered) => {
    if (!offered.length) return;
    const list = document.createElement("ul");
    for (const one of offered) {
      const entry = make("li", `${one.what}: ${one.says} `);
      if (one.fix) entry.append(button("write it", () => {
        editor.change(one.fix.from, one.fix.to, one.fix.text);
        side.hidden = true;
      }));
      list.append(entry);
    }
    parts.push(make("h2", title), list);
  };
  offers("hands", found.hands);
  offers("octave lines", found.octaves);
  parts.push(button("Close", () => { side.hidden = true; element("text").focus(); }));
  side.replaceChildren(...parts);
}
