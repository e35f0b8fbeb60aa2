// What is heard and felt of an alarm: bursts told apart by their beat, since a mixer drowns what is
// only loud; a buzz in the pocket; and the words, where the device can speak.

// Two tones at once: the low one carries through a room (ISO 7731 asks for 500 to 2500 Hz), the
// high one is where small loudspeakers and ears are at their best. Own choice.
const TONES_HZ = { high: [880, 2640], medium: [660, 1980], low: [520, 1560] };
const RAMP_S = 0.008;

export class Sounder {
  constructor(language) {
    this.patterns = {};
    this.language = language;
    this.context = null;
    this.wanted = false;
    this.ringing = null;
    this.again = 0;
    this.voices = new Set();
  }

  /** Must be called from a tap: no browser lets a page sound without one. */
  async enable() {
    this.wanted = true;
    const Context = globalThis.AudioContext ?? globalThis.webkitAudioContext;
    if (Context && !this.context) this.context = new Context();
    await this.wake();
    return this.can();
  }

  async wake() {
    if (this.wanted && this.context && this.context.state !== "running") {
      await this.context.resume().catch(() => {});
    }
  }

  can() {
    return this.wanted && this.context?.state === "running";
  }

  disable() {
    this.wanted = false;
    this.hush();
  }

  test() {
    this.hush();
    const again = this.ringing;
    this.ringing = null;
    this.burst("high");
    setTimeout(() => this.ring(again), 2500);
  }

  /** Sounds as long as told so; null for silence. */
  ring(priority) {
    if (priority === this.ringing) return;
    this.hush();
    this.ringing = priority;
    if (priority) this.repeat();
  }

  repeat() {
    const priority = this.ringing;
    if (!priority) return;
    this.burst(priority);
    const pattern = this.patterns[priority];
    if (pattern?.repeat_s > 0) {
      const again_ms = 1000 * (lasts(pattern) + pattern.repeat_s);
      this.again = setTimeout(() => this.repeat(), again_ms);
    }
  }

  burst(priority) {
    const beats = this.patterns[priority]?.pattern;
    if (!beats || !this.wanted) return;
    // The user's own setting for less motion is not asked: a buzz is part of the alarm.
    if (navigator.userActivation?.hasBeenActive !== false)
      navigator.vibrate?.(beats.flat().map((s) => Math.round(1000 * s)));
    this.wake();
    if (!this.context) return;
    let start = this.context.currentTime + 0.02;
    for (const [on, off] of beats) {
      for (const hertz of TONES_HZ[priority] ?? TONES_HZ.low) this.voice(hertz, start, on);
      start += on + off;
    }
  }

  voice(hertz, start, on) {
    const tone = this.context.createOscillator();
    const gain = this.context.createGain();
    tone.type = "square";
    tone.frequency.value = hertz;
    gain.gain.setValueAtTime(0, start);
    gain.gain.linearRampToValueAtTime(0.35, start + RAMP_S);
    gain.gain.setValueAtTime(0.35, start + on - RAMP_S);
    gain.gain.linearRampToValueAtTime(0, start + on);
    tone.connect(gain).connect(this.context.destination);
    tone.start(start);
    tone.stop(start + on);
    this.voices.add(tone);
    tone.onended = () => {
      this.voices.delete(tone);
      gain.disconnect();
    };
  }

  /** Says it aloud once, behind the first bursts. */
  speak(text) {
    if (!this.wanted || !globalThis.speechSynthesis) return;
    const words = new SpeechSynthesisUtterance(text);
    words.lang = this.language;
    setTimeout(() => {
      if (this.ringing) speechSynthesis.speak(words);
    }, 1500);
  }

  hush() {
    clearTimeout(this.again);
    this.ringing = null;
    for (const tone of this.voices) {
      try {
        tone.stop();
      } catch {
        // It had stopped by itself.
      }
    }
    this.voices.clear();
    if (this.wanted) navigator.vibrate?.(0);
    globalThis.speechSynthesis?.cancel();
  }
}

const lasts = (pattern) => pattern.pattern.flat().reduce((sum, s) => sum + s, 0);
