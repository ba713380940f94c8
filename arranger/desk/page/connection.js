// The way to the engine and to the songs: here, to the server on this machine. The whole page knows no other.

const TOKEN = "desk token";
if (location.hash.length > 1) {
  sessionStorage.setItem(TOKEN, location.hash.slice(1));
  history.replaceState(null, "", location.pathname);
}

export class Refused extends Error {
  constructor(message, status, answer) {
    super(message);
    this.status = status;
    this.answer = answer;
  }
}

async function post(path, question) {
  let answer;
  try {
    answer = await fetch(`/${path}`, {
      method: "POST",
      headers: { "content-type": "application/json", "x-desk-token": sessionStorage.getItem(TOKEN) ?? "" },
      body: JSON.stringify(question),
    });
  } catch {
    throw new Refused("the desk has ended: start it again; your text stays on this page", 0, null);
  }
  const json = answer.headers.get("content-type")?.startsWith("application/json");
  if (!answer.ok) {
    const found = json ? await answer.json() : {};
    throw new Refused(found.refused ?? `the desk refused this (${answer.status})`, answer.status, found);
  }
  return json ? answer.json() : answer.arrayBuffer();
}

export const engine = {
  // Answers a question; an ArrayBuffer where bytes were asked for.
  ask: (question) => post("ask", question),
};

export const store = {
  songs: (words) => post("songs", { words }),
  read: (name) => post("read", { name }),
  // Gives { version }, or { conflict } where the song was changed elsewhere meanwhile.
  async save(name, text, version) {
    try {
      return await post("save", { name, text, version });
    } catch (refused) {
      if (refused.status === 409) return refused.answer;
      throw refused;
    }
  },
  async keepSettings(values) {
    try {
      return await post("settings", { values });
    } catch (refused) {
      if (refused.status === 409) return { problems: [{ message: "the settings were changed elsewhere meanwhile", hints: [] }] };
      throw refused;
    }
  },
  font: (family) => post("font", { family }),
  here: () => post("here", {}),
};
