// Taking along: what is printed, and what is given as files.

import { engine } from "./connection.js";
import { give } from "./dialogs.js";

const element = (id) => document.getElementById(id);

export function takingAlong({ song, day, question, isOrder, state, say }) {
  function fileName(ending) {
    const kind = isOrder() ? "order" : "song";
    const stem = song.name ? song.name.split("/").pop().replace(/\.(song|set)\.txt$/, "") : song.title || kind;
    const copy = day.elements.copy.value;
    if (copy === "study") return `${stem}.study.${ending}`;
    const stage = copy === "stage" && ending === "pdf" ? ".stage" : "";
    if (isOrder()) return `${stem}.evening${stage}.${ending}`;
    const key = day.elements.key.value ? ` in ${day.elements.key.value}` : "";
    return `${stem}${key}${stage}.${ending}`;
  }

  async function made(ask, kind) {
    let asking = question(ask);
    if (isOrder()) {
      asking = ask === "midi" ? question("practise", { as: "midi" }) : question("book");
      state("this is made of all songs, and takes a few seconds");
    }
    const found = await engine.ask(asking);
    if (isOrder()) state("");
    if (found instanceof ArrayBuffer) return new Blob([found], { type: kind });
    state(found.failed ?? found.bad ?? found.problems?.find((one) => one.severity === "error")?.message ?? "the mistakes must be mended first");
    return null;
  }

  function takeAlong(ask, ending, kind) {
    return async () => {
      try {
        const blob = await made(ask, kind);
        if (blob === null) return;
        give(blob, fileName(ending), kind);
      } catch (fault) {
        say(fault);
      }
    };
  }
  element("pdf-button").addEventListener("click", takeAlong("print", "pdf", "application/pdf"));
  element("midi-button").addEventListener("click", takeAlong("midi", "mid", "audio/midi"));
  element("musicxml-button").addEventListener("click", takeAlong("musicxml", "musicxml", "application/vnd.recordare.musicxml+xml"));
  element("print-button").addEventListener("click", async () => {
    try {
      const blob = await made("print", "application/pdf");
      if (blob === null) return;
      document.getElementById("print-frame")?.remove();
      const frame = document.createElement("iframe");
      frame.id = "print-frame";
      frame.hidden = true;
      frame.title = "what is printed";
      frame.src = URL.createObjectURL(blob);
      frame.addEventListener("load", () => { frame.contentWindow.focus(); frame.contentWindow.print(); });
      document.body.append(frame);
    } catch (fault) {
      say(fault);
    }
  });
}
