// The text of a running order, changed by hand: every function takes a text and gives the changed one. What is not
// changed stays as it was typed, remarks and blank lines too; what the lines mean is for the engine to say.

const FIRST = /^\s*(\p{L}+)(?=[\s:=]|$)/u;
const WIDTH = 10; // columns of the first word, as in the samples
const HEAD = ["set", "date", "place"];

const wordOf = (line) => (FIRST.exec(line)?.[1] ?? "").toLowerCase();
const valueOf = (line) => line.slice(FIRST.exec(line)[0].length).replace(/^\s*[:=]?\s*/, "").trimEnd();
const written = (word, value) => word.padEnd(WIDTH) + value;
const isRemark = (line) => line.trim().startsWith("#");
const plain = (words) => words.replace(/\s+/g, " ").trim(); // one line, whatever was pasted

// Divides a text into its lines and, for each song and break, the lines from `start` up to `end`: remarks that stand
// right over it are its own, blank lines behind it are not.
function divided(text) {
  const lines = text.split("\n");
  const starts = [];
  lines.forEach((line, at) => {
    if (!["song", "break"].includes(wordOf(line))) return;
    let start = at;
    while (start > 0 && isRemark(lines[start - 1]) && !starts.some((one) => one.at >= start - 1)) start -= 1;
    starts.push({ at, start });
  });
  const items = starts.map(({ at, start }, number) => {
    let end = starts[number + 1]?.start ?? lines.length;
    while (end > at + 1 && !lines[end - 1].trim()) end -= 1;
    return { at, start, end };
  });
  return { lines, items };
}

// Gives the songs and breaks of a text: what each is (`song` or `break`), its file or words, its key of the evening,
// how it goes on (`then`, with `seconds` of talk), whether it has chords to go on by, and its first line, from 0.
export function itemsOf(text) {
  const { lines, items } = divided(text);
  return items.map(({ at, end }) => {
    const own = lines.slice(at + 1, end);
    const facts = own.filter((line) => FIRST.test(line)).map((line) => [wordOf(line), valueOf(line)]);
    const ways = facts.filter(([word]) => word === "then").map(([, value]) => value.toLowerCase());
    const chords = ways.some((way) => way.startsWith("chords"));
    const way = ways.find((one) => !one.startsWith("chords")) ?? "";
    const talk = /^talk\s+(\d+)/.exec(way);
    return {
      kind: wordOf(lines[at]),
      value: valueOf(lines[at]),
      key: facts.find(([word]) => word === "key")?.[1] ?? "",
      then: talk ? "talk" : way || (chords ? "attacca" : ""),
      seconds: talk ? Number(talk[1]) : null,
      chords,
      line: at,
      end,
    };
  });
}

// Gives what the evening is called, its date and its place.
export function headOf(text) {
  const { lines, items } = divided(text);
  const own = lines.slice(0, items[0]?.start ?? lines.length);
  return Object.fromEntries(HEAD.map((word) => {
    const line = own.find((one) => wordOf(one) === word);
    return [word, line === undefined ? "" : valueOf(line)];
  }));
}

// Moves an item by so many places; it takes its facts and its remarks with it.
export function moved(text, number, by) {
  const { lines, items } = divided(text);
  const other = number + by;
  if (!items[number] || !items[other]) return text;
  const [first, second] = number < other ? [number, other] : [other, number];
  const block = (one) => lines.slice(items[one].start, items[one].end);
  const order = items.map((_, at) => at);
  order.splice(other, 0, ...order.splice(number, 1));
  const made = lines.slice(0, items[first].start);
  for (let at = first; at <= second; at += 1) { // what stands between items stays where it is
    made.push(...block(order[at]));
    if (at < second) made.push(...lines.slice(items[at].end, items[at + 1].start));
  }
  return [...made, ...lines.slice(items[second].end)].join("\n");
}

export function without(text, number) {
  const { lines, items } = divided(text);
  if (!items[number]) return text;
  const { start, end } = items[number];
  const next = items[number + 1]?.start ?? lines.length;
  const last = number === items.length - 1;
  const before = lines.slice(0, start);
  while (last && before.length && !before.at(-1).trim()) before.pop();
  return [...before, ...lines.slice(last ? end : next)].join("\n");
}

function added(text, line) {
  return `${text.trimEnd()}${text.trim() ? "\n\n" : ""}${line}\n`;
}

export const withSong = (text, file) => added(text, written("song", file));
export const withBreak = (text, words) => added(text, written("break", plain(words) || "break"));

// Names the files of songs anew: `fileOf` gives for each what it is to be called. What else a line has stays as it is.
export function withFiles(text, fileOf) {
  const { lines, items } = divided(text);
  for (const { at } of items) {
    const file = valueOf(lines[at]);
    if (wordOf(lines[at]) !== "song" || !file || fileOf(file) === file) continue;
    const before = lines[at].slice(0, lines[at].lastIndexOf(file));
    lines[at] = before + fileOf(file) + lines[at].slice(before.length + file.length);
  }
  return lines.join("\n");
}

// Puts a line of a song or a break in the place of the one that `is` it, at the end of its lines where none is; takes
// it out where the line is null.
function withLine(text, number, is, line) {
  const { lines, items } = divided(text);
  if (!items[number]) return text;
  const { at, end } = items[number];
  const old = lines.findIndex((one, place) => place > at && place < end && FIRST.test(one) && is(one));
  if (old >= 0) lines.splice(old, 1, ...(line === null ? [] : [line]));
  else if (line !== null) {
    let place = end;
    while (place > at + 1 && (isRemark(lines[place - 1]) || !lines[place - 1].trim())) place -= 1;
    lines.splice(place, 0, line);
  }
  return lines.join("\n");
}

// Sets the key of the evening; empty for the song's own.
export function withKey(text, number, key) {
  const { lines, items } = divided(text);
  const line = key ? written("key", key) : null;
  const has = items[number] && lines.slice(items[number].at, items[number].end).some((one) => wordOf(one) === "key");
  if (has || !items[number] || line === null) return withLine(text, number, (one) => wordOf(one) === "key", line);
  lines.splice(items[number].at + 1, 0, line); // right under the song
  return lines.join("\n");
}

// Sets how an item goes on: attacca, pad, talk (with seconds) or stop.
export function withThen(text, number, way, seconds) {
  const is = (one) => wordOf(one) === "then" && !valueOf(one).toLowerCase().startsWith("chords");
  return withLine(text, number, is, written("then", way === "talk" ? `talk ${seconds} s` : way));
}

// Sets the words of a break.
export function withWords(text, number, words) {
  const { lines, items } = divided(text);
  if (!items[number]) return text;
  lines[items[number].at] = written("break", plain(words) || "break");
  return lines.join("\n");
}

// Sets what the evening is called, its date or its place; takes the line out where it is empty.
export function withHead(text, word, value) {
  const { lines, items } = divided(text);
  const end = items[0]?.start ?? lines.length;
  const old = lines.findIndex((one, at) => at < end && wordOf(one) === word);
  const line = plain(value) ? written(word, plain(value)) : null;
  if (old >= 0) lines.splice(old, 1, ...(line === null ? [] : [line]));
  else if (line !== null) {
    let place = -1; // behind the words that come before it
    for (const one of HEAD.slice(0, HEAD.indexOf(word))) {
      place = Math.max(place, lines.findIndex((other, at) => at < end && wordOf(other) === one));
    }
    if (place < 0) { // below the remarks with which the file begins
      while (place + 1 < end && isRemark(lines[place + 1])) place += 1;
    }
    lines.splice(place + 1, 0, line);
  }
  return lines.join("\n");
}

export const empty = (name) => `${written("set", plain(name))}\n`;
