// Listening: from the bar of the cursor, with a count-in, slower, each part heard or not; the sounding bar is marked.

import { note, click } from "./sound.js";

const AHEAD = 0.4; // seconds that are given to the sound system in advance
let context = null;
let playing = null;

export const isPlaying = () => playing !== null;

export function stop() {
  if (playing === null) return;
  clearInterval(playing.timer);
  cancelAnimationFrame(playing.frame);
  for (const tone of playing.tones) { try { tone.stop(); } catch { /* it has not begun */ } }
  playing.output.disconnect();
  const { ended } = playing;
  playing = null;
  ended();
}

// Plays { notes, bars, seconds } from the bar that is drawn at a place of the text (null: from the start).
export async function play(heard, { place, countIn, speed, parts, onBar, ended }) {
  stop();
  context ??= new AudioContext();
  await context.resume();
  const output = new GainNode(context, { gain: 0.8 });
  output.connect(context.destination);
  const bars = heard.bars;
  let bar = 0;
  if (place !== null) {
    bar = bars.findIndex(([, , , from, to]) => from <= place && place <= to);
    if (bar < 0) bar = Math.max(0, bars.findIndex(([, , , from]) => from >= place));
  }
  const [from, beats, beat] = bars[bar] ?? [0, 4, 1];
  let begins = context.currentTime + 0.08;
  const tones = new Set();
  if (countIn) {
    for (let number = 0; number < beats; number += 1) {
      tones.add(click(context, output, begins + (number * beat) / speed, number === 0));
    }
    begins += (beats * beat) / speed;
  }
  const at = (seconds) => begins + (seconds - from) / speed;
  const notes = heard.notes.filter(([part, , start, length]) => start + length > from + 0.05 && parts().has(part) !== undefined);
  let next = 0;
  playing = { output, tones, ended, timer: 0, frame: 0 };
  const own = playing;
  const give = () => {
    while (next < notes.length && at(notes[next][2]) < context.currentTime + AHEAD) {
      const one = notes[next];
      next += 1;
      if (!parts().has(one[0])) continue;
      const start = Math.max(one[2], from); // a note that began before is taken up
      const tone = note(context, output, one, at(start), (one[2] + one[3] - start) / speed);
      tones.add(tone);
      tone.addEventListener("ended", () => tones.delete(tone));
    }
    if (next === notes.length && context.currentTime > at(heard.seconds) + 0.3) stop();
  };
  let marked = -1;
  const follow = () => {
    if (playing !== own) return;
    const now = from + (context.currentTime - begins) * speed;
    let here = bar;
    while (here + 1 < bars.length && bars[here + 1][0] <= now) here += 1;
    if (here !== marked) {
      marked = here;
      onBar(bars[here][3], bars[here][4]);
    }
    playing.frame = requestAnimationFrame(follow);
  };
  own.timer = setInterval(give, 100);
  give();
  if (playing === own) follow();
}
