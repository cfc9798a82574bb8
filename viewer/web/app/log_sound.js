// Sounds of the answers, each another pattern. Nothing sounds before a tap: browsers allow it only then.

let audio = null;

// [Hz, s, silence after, s] one after the other, and how it sounds.
const PATTERNS = {
  plan: ["sine", [[880, 0.14, 0]]],
  caution: ["triangle", [[620, 0.22, 0.1], [620, 0.22, 0.1], [620, 0.22, 0]]],
  stop: ["square", [[1150, 0.16, 0], [760, 0.16, 0], [1150, 0.16, 0], [760, 0.16, 0], [1150, 0.16, 0], [760, 0.16, 0], [1150, 0.16, 0], [760, 0.3, 0]]],
  low: ["sawtooth", [[520, 0.25, 0.03], [390, 0.25, 0.03], [260, 0.4, 0]]],
  departure: ["triangle", [[980, 0.12, 0.05], [620, 0.12, 0.15], [980, 0.12, 0.05], [620, 0.12, 0.15], [980, 0.12, 0.05], [620, 0.25, 0]]],
  ask: ["sine", [[440, 0.09, 0.07], [440, 0.09, 0]]],
  unjudged: ["sine", [[300, 0.1, 0]]],
};
const SHAKES = { plan: [60], caution: [200, 100, 200, 100, 200], stop: [900], low: [400, 150, 400], departure: [120, 60, 120, 200, 120, 60, 120], ask: [60, 60, 60], unjudged: [40] };

// Called in a tap, so that later sounds are allowed.
export function wakeSound() {
  if (!audio && window.AudioContext) audio = new AudioContext();
  if (audio && audio.state === "suspended") audio.resume();
}

// These sound as others do.
const LIKE = { halt: "stop", still: "ask" };

export function sound(answer) {
  const state = LIKE[answer] ?? answer;
  if (navigator.vibrate) navigator.vibrate(SHAKES[state]);
  if (!audio) return;
  const [type, tones] = PATTERNS[state];
  let at = audio.currentTime + 0.02;
  for (const [frequency, long, silence] of tones) {
    const [tone, loud] = [audio.createOscillator(), audio.createGain()];
    tone.type = type;
    tone.frequency.value = frequency;
    loud.gain.setValueAtTime(0, at);
    loud.gain.linearRampToValueAtTime(0.8, at + 0.01);
    loud.gain.setValueAtTime(0.8, at + long - 0.02);
    loud.gain.linearRampToValueAtTime(0, at + long);
    tone.connect(loud).connect(audio.destination);
    tone.start(at);
    tone.stop(at + long);
    at += long + silence;
  }
}
