// Sound: oscillators with waves of a few harmonics, no recordings. Takes notes as [part, key, start, length, velocity].

const HARMONICS = {
  right: [1, 0.5, 0.28, 0.14, 0.08, 0.04],
  left: [1, 0.6, 0.3, 0.18, 0.1, 0.05],
  octaves: [1, 0.4, 0.34, 0.12, 0.1, 0.03],
  pad: [1, 0.12, 0.06, 0.02],
};
const LOUDNESS = { right: 0.16, left: 0.2, octaves: 0.16, pad: 0.08 };
const RELEASE = 0.12; // seconds
const waves = new WeakMap();

function wave(context, part) {
  if (!waves.has(context)) waves.set(context, {});
  const own = waves.get(context);
  own[part] ??= context.createPeriodicWave(
    new Float32Array(HARMONICS[part].length + 1), new Float32Array([0, ...HARMONICS[part]]));
  return own[part];
}

// Plays one note from a time of the context on.
export function note(context, output, [part, key, , length, velocity], at, lasting = length) {
  const tone = new OscillatorNode(context, { frequency: 440 * 2 ** ((key - 69) / 12) });
  tone.setPeriodicWave(wave(context, part));
  const loud = LOUDNESS[part] * (velocity / 127) ** 1.6;
  const amount = new GainNode(context, { gain: 0 });
  const level = amount.gain;
  level.setValueAtTime(0, at);
  if (part === "pad") {
    level.linearRampToValueAtTime(loud, at + Math.min(0.25, lasting / 2));
    level.setValueAtTime(loud, at + Math.max(lasting - 0.05, lasting / 2));
  } else { // struck: loud at once, then dying away, high notes sooner
    level.linearRampToValueAtTime(loud, at + 0.006);
    level.setTargetAtTime(loud * 0.15, at + 0.006, Math.max(0.25, 2.2 - (key - 36) * 0.03));
    level.setTargetAtTime(0, at + lasting, RELEASE / 3);
  }
  if (part === "pad") level.linearRampToValueAtTime(0, at + lasting + RELEASE);
  tone.connect(amount).connect(output);
  tone.start(at);
  tone.stop(at + lasting + 2 * RELEASE);
  return tone;
}

// A click of the count-in, the first of a bar higher.
export function click(context, output, at, first) {
  const tone = new OscillatorNode(context, { type: "triangle", frequency: first ? 1568 : 1047 });
  const amount = new GainNode(context, { gain: 0 });
  amount.gain.setValueAtTime(0.25, at);
  amount.gain.exponentialRampToValueAtTime(0.001, at + 0.06);
  tone.connect(amount).connect(output);
  tone.start(at);
  tone.stop(at + 0.08);
  return tone;
}

// Renders a stretch of a performance without playing it; gives an AudioBuffer.
export async function rendered(notes, seconds, rate = 22050) {
  const context = new OfflineAudioContext(1, Math.ceil(seconds * rate), rate);
  for (const one of notes) if (one[2] < seconds) note(context, context.destination, one, one[2]);
  return context.startRendering();
}
