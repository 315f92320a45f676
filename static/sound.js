// A ring that a person allowed. A module of its own, so that no page starts its timers twice.

const RINGS_FOR_SECONDS = 3;
let sound = null; // made when a person asks for it: no page rings unasked

export function allowSound() {
  sound ??= globalThis.AudioContext ? new AudioContext() : null;
  sound?.resume();
}

export function ring(seconds = RINGS_FOR_SECONDS) {
  navigator.vibrate?.(seconds < 2 ? 400 : [400, 200, 400, 200, 400]);
  if (!sound) return;
  const start = sound.currentTime;
  const tone = sound.createOscillator();
  const volume = sound.createGain();
  tone.frequency.value = 880;
  volume.gain.value = 0;
  for (let at = 0; at < seconds; at += 0.5) {
    volume.gain.setValueAtTime(0.4, start + at);
    volume.gain.setValueAtTime(0, start + at + 0.25);
  }
  tone.connect(volume).connect(sound.destination);
  tone.start(start);
  tone.stop(start + seconds);
}
