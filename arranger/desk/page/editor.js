// The text: the browser's own field, so that undo, on-screen keyboards and screen readers work, over its colours.

const text = document.getElementById("text");
const under = document.getElementById("under");
let known = new Map(); // the colours of a line by what it holds: an edit costs the others nothing

export const value = () => text.value;
export const cursor = () => text.selectionStart;

export function open(content) {
  text.value = content;
  text.setSelectionRange(0, 0);
  text.scrollTop = 0;
  paint([], []);
}

// Puts the cursor at a place, what stands there being selected.
export function goTo(from, to) {
  text.focus();
  text.setSelectionRange(from, to);
  keepInSight();
}

// Scrolls to the cursor where it is out of sight: what stands beside the text may have taken its room.
export function keepInSight() {
  if (document.activeElement !== text) return;
  const line = text.value.slice(0, text.selectionStart).split("\n").length - 1;
  const height = parseFloat(getComputedStyle(text).lineHeight);
  if (line * height < text.scrollTop) text.scrollTop = Math.max(0, (line - 2) * height);
  else if ((line + 2) * height > text.scrollTop + text.clientHeight) text.scrollTop = (line + 3) * height - text.clientHeight;
}

// Changes the text as if it were typed, so that it can be undone.
export function change(from, to, replacement) {
  text.focus();
  text.setSelectionRange(from, to);
  const typed = replacement === "" ? document.execCommand("delete") : document.execCommand("insertText", false, replacement);
  if (!typed || text.value.slice(from, from + replacement.length) !== replacement) {
    text.setRangeText(replacement, from, to, "end");
    text.dispatchEvent(new Event("input"));
  }
}

// Does something to the text while the focus and, on a tablet, the keys on the screen stay as they are.
export function quietly(doing) {
  const focused = document.activeElement;
  text.inputMode = "none";
  doing();
  if (focused !== text) {
    text.blur(); // whoever had the focus may not be there any more: keys must not go into the text
    focused?.focus?.({ preventScroll: true });
  }
  text.inputMode = "";
}

let name = "";
export const named = () => name; // the file's name in the folder; empty for a new one
export const nameIt = (given) => { name = given; };

// Colours the text: stretches [from, to, kind] in order, and what is wrong as { from, to, severity }.
export function paint(colours, problems) {
  const content = text.value;
  const kinds = new Array(content.length).fill("");
  for (const [from, to, kind] of colours) kinds.fill(kind, from, to);
  for (const { from, to, severity } of problems) {
    if (from === null) continue;
    const wrong = severity === "error" ? " wrong" : " doubt";
    for (let at = from; at < Math.max(to, from + 1) && at < content.length; at += 1) {
      if (content[at] !== "\n" && !kinds[at].includes(" ")) kinds[at] += wrong;
    }
  }
  known = new Map();
  let at = 0;
  const lines = content.split("\n").map((line) => {
    const own = kinds.slice(at, at + line.length);
    at += line.length + 1;
    known.set(line, own);
    return own;
  });
  draw(content, lines);
}

// Draws the text as it is now: lines that have been seen before in the colours that they had.
function repaint() {
  const lines = text.value.split("\n");
  draw(text.value, lines.map((line) => known.get(line) ?? new Array(line.length).fill("")));
}

function draw(content, lines) {
  const drawn = document.createDocumentFragment();
  content.split("\n").forEach((line, number) => {
    const kinds = lines[number];
    for (let from = 0; from < line.length; ) {
      let to = from + 1;
      while (to < line.length && kinds[to] === kinds[from]) to += 1;
      const piece = document.createElement("span");
      if (kinds[from]) piece.className = kinds[from].trim();
      piece.textContent = line.slice(from, to);
      drawn.append(piece);
      from = to;
    }
    drawn.append("\n");
  });
  under.replaceChildren(drawn);
  follow();
}

function follow() {
  under.style.transform = `translate(${-text.scrollLeft}px, ${-text.scrollTop}px)`;
}

export function onInput(react) {
  text.addEventListener("input", () => {
    repaint();
    react();
  });
}

export function onCursor(react) {
  document.addEventListener("selectionchange", () => {
    if (document.activeElement === text) react();
  });
}

text.addEventListener("scroll", follow);
