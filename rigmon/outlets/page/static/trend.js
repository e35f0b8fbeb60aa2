// The trend of bath and mix: what was measured, what fits it, and the time that lies ahead.
// Mix and bath have a panel each, so that a tenth of a degree of the mix is seen beside the bath.

const KEEP_S = 4 * 3600;
const OLD_STEP_S = 10;
const LIMIT = 32768;
const HOUR = 3600;
const SERIES = ["bath", "bath_fit", "mix", "mix_fit", "frozen"];
const PANELS = [
  { name: "mix", colour: "--mix", dash: [7, 3], level: "freezing_c", levelWord: "freezes from {c}", least: 2 },
  { name: "bath", colour: "--bath", dash: [], level: "limit_c", levelWord: "limit {c}", least: 4 },
];
const EVENTS = {
  plateau: ["mix", "stiff"], "rest-over": ["mix", "rested"], "melt-onset": ["mix", "softens"],
  "base-cold": ["mix", "cold"], hardened: ["mix", "hard"], "bath-limit": ["bath", "at its limit"], "ice-gone": ["bath", "ice gone"],
};

// Marks that get a flag, by the few words on it; answers to alarms get none.
const FLAGS = {
  "ice-in": "ice in", pour: "poured", "beat-start": "beating", "beat-stop": "stopped", "rest-start": "rest", "rest-stop": "out of rest",
  recharge: "recharged", scrape: "scraped", "mix-in": "stirred in", pack: "packed", "harden-start": "tubs in", note: "note",
};

const known = (x) => typeof x === "number" && Number.isFinite(x);

/** Sensible figures between two, at most so many: 1, 2 or 5 times a power of ten apart. */
export function ticks(low, high, most) {
  const rough = (high - low) / Math.max(most, 1);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * [1, 2, 5, 10].find((n) => n * power >= rough * 0.9999);
  const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  const found = [];
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high + step * 1e-9; i++) found.push(Number((i * step).toFixed(digits)));
  return found;
}

/** Times between two [s], in steps that a clock has; minutes up to three hours, then hours. */
export function timeTicks(from, to, most) {
  const steps = [10, 30, 60, 120, 300, 600, 1200, 1800, HOUR, 2 * HOUR, 3 * HOUR, 6 * HOUR, 12 * HOUR, 24 * HOUR];
  const hours = to - from > 3 * HOUR;
  const step = steps.find((s) => (to - from) / s <= most && (!hours || s >= HOUR)) ?? 48 * HOUR;
  const unit = hours ? "h" : step < 60 ? "s" : "min";
  const found = [];
  for (let at = Math.ceil(from / step) * step; at <= to; at += step) {
    found.push({ at, value: at / { h: HOUR, min: 60, s: 1 }[unit] });
  }
  return { unit, ticks: found };
}

/** Which rows stay: all of the newest four hours, of older ones the first in every ten seconds. */
export function thin(at, count, step = OLD_STEP_S) {
  const kept = [];
  let last = -Infinity;
  for (let i = 0; i < count; i++) {
    const span = Math.floor(at[i] / step);
    if (at[i] >= at[count - 1] - KEEP_S || span !== last) kept.push(i);
    last = span;
  }
  return kept;
}

/** The first row at or after a time. */
export function firstAt(at, count, time) {
  let [low, high] = [0, count];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (at[middle] < time) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Least and greatest value in each of `wide` columns between two times; NaN where there is none. */
export function columns(at, values, count, from, to, wide, low = new Float32Array(wide), high = new Float32Array(wide)) {
  low.fill(NaN);
  high.fill(NaN);
  const scale = wide / (to - from);
  for (let i = firstAt(at, count, from); i < count && at[i] <= to; i++) {
    const value = values[i];
    if (value !== value) continue;
    const x = Math.min(((at[i] - from) * scale) | 0, wide - 1);
    if (!(low[x] <= value)) low[x] = value;
    if (!(high[x] >= value)) high[x] = value;
  }
  return { low, high };
}

export class Trend {
  #view = "10min";
  #marks = [];
  #picture = null;
  #run = null;
  #since = 0;
  #cursor = null;
  #waiting = false;

  constructor(host, t, format) {
    Object.assign(this, { host, t, format, count: 0 });
    this.#room(4096);
    this.held = {};
    host.style.position ||= "relative";
    const canvas = (more) => {
      const made = document.createElement("canvas");
      Object.assign(made.style, { position: "absolute", inset: "0", width: "100%", height: "100%" });
      for (const key in more) made.setAttribute(key, more[key]);
      host.append(made);
      return made;
    };
    this.below = canvas({ "aria-hidden": "true" });
    this.above = canvas({ tabindex: "0", role: "slider", "aria-label": t("Trend of bath and mix"), "aria-valuemin": 0, "aria-valuenow": 0 });
    this.above.style.touchAction = "pan-y";
    this.above.addEventListener("pointermove", (event) => this.#point(event));
    this.above.addEventListener("pointerdown", (event) => this.#point(event));
    this.above.addEventListener("pointerleave", (event) => event.pointerType === "mouse" && this.#read(null));
    this.above.addEventListener("keydown", (event) => this.#key(event));
    this.above.addEventListener("blur", () => this.#read(null));
    document.addEventListener("visibilitychange", () => this.#soon());
    new ResizeObserver(() => this.#soon()).observe(host);
    this.setTheme();
  }

  load(given, marks) {
    this.count = 0;
    this.#room(given.at.length + 1024);
    for (let i = 0; i < given.at.length; i++) {
      this.#push(given.at[i], (name) => given[name]?.[i]);
    }
    this.#marks = [];
    for (const mark of marks ?? []) this.addMark(mark);
    this.#soon();
  }

  append(rows) {
    for (const row of rows) {
      // What comes again after a broken connection is there already.
      if (this.count && row.at <= this.at[this.count - 1]) continue;
      this.#push(row.at, (name) => row[name]);
    }
    this.#soon();
  }

  addMark(mark) {
    const same = (one) => one.at === mark.at && one.word === mark.word;
    if (!(mark.word in FLAGS) || this.#marks.some(same)) return;
    this.#marks.push(mark);
    this.#soon();
  }

  update(picture, format = this.format) {
    const before = this.#picture;
    this.format = format;
    this.#picture = picture;
    // A run that has ended stays to be read until another begins.
    const another = picture.run && this.#run && picture.run !== this.#run;
    this.#run = picture.run ?? this.#run;
    if (another) {
      this.count = 0;
      this.#marks = [];
    }
    if (another || (before && before.round < picture.round)) this.#since = picture.at;
    for (const mark of picture.news ?? []) if (mark.kind === "mark") this.addMark(mark);
    this.#soon();
  }

  span(view) {
    this.#view = view;
    this.#soon();
  }

  setTheme() {
    const style = getComputedStyle(this.host);
    const one = (name) => style.getPropertyValue(name).trim();
    this.colours = { ink: one("--ink"), paper: one("--paper"), line: one("--line") };
    for (const { name, colour } of PANELS) this.colours[name] = one(colour);
    this.font = style.fontFamily || "system-ui, sans-serif";
    this.#soon();
  }

  // --- rows -----------------------------------------------------------------------------------

  #room(size) {
    const grown = (before) => {
      const made = new Float32Array(size);
      if (before) made.set(before.subarray(0, this.count));
      return made;
    };
    const at = new Float64Array(size);
    if (this.at) at.set(this.at.subarray(0, this.count));
    this.at = at;
    this.data = Object.fromEntries(SERIES.map((name) => [name, grown(this.data?.[name])]));
    this.next = size;
  }

  #push(at, get) {
    if (this.count === this.next) this.#thin();
    this.at[this.count] = at;
    for (const name of SERIES) this.data[name][this.count] = get(name) ?? NaN;
    this.count++;
  }

  #thin() {
    let step = OLD_STEP_S;
    let kept = thin(this.at, this.count, step);
    while (kept.length > LIMIT - 1024) kept = thin(this.at, this.count, (step *= 2));
    for (const values of [this.at, ...Object.values(this.data)]) kept.forEach((from, to) => (values[to] = values[from]));
    this.count = kept.length;
    if (this.count > this.next * 0.75) this.#room(Math.min(this.next * 2, LIMIT));
  }

  // --- drawing --------------------------------------------------------------------------------

  #soon() {
    if (this.#waiting || document.hidden) return;
    this.#waiting = true;
    requestAnimationFrame(() => {
      this.#waiting = false;
      this.draw();
    });
  }

  get now() {
    return Math.max(this.#picture?.at ?? 0, this.count ? this.at[this.count - 1] : 0);
  }

  // Forecasts that still lie ahead, by panel; an end beyond the horizon is open.
  #ahead() {
    const found = [];
    for (const [event, forecast] of Object.entries(this.#picture?.forecasts ?? {})) {
      const [panel, word] = EVENTS[event] ?? [];
      if (!panel || !known(forecast?.p10)) continue;
      const to = forecast.p90 ?? Infinity;
      if (to > this.now) found.push({ panel, word, p50: forecast.p50, from: Math.max(forecast.p10, this.now), to });
    }
    return found;
  }

  #window(ahead) {
    const { now } = this;
    const first = this.count ? this.at[0] : now - 600;
    const starts = this.#marks.filter(({ word }) => word === "pour" || word === "beat-start").map(({ at }) => at);
    const round = this.#since || starts.pop() || first;
    const from = { "10min": now - 600, round: Math.max(first, round - 60), run: first }[this.#view];
    const past = Math.max(now - from, 300);
    // The end moves in steps, so that the picture does not creep while a forecast changes.
    const step = past > 3 * HOUR ? HOUR : past > 1200 ? 600 : 120;
    const ends = ahead.map((one) => (Number.isFinite(one.to) ? one.to : one.from + past * 0.1) - now);
    const reach = Math.max(past * 0.06, Math.min(Math.max(0, ...ends) * 1.08, past * 0.8));
    return [now - past, Math.min(Math.ceil((now + reach) / step) * step, now + past)];
  }

  #fit(canvas) {
    // Text and lines grow with the page's own type, which a large screen has larger.
    this.zoom = (parseFloat(getComputedStyle(document.documentElement).fontSize) || 16) / 16;
    // More than two dots a pixel are not seen and cost an old tablet its time.
    const ratio = Math.min(window.devicePixelRatio || 1, 2) * this.zoom;
    const [w, h] = [this.host.clientWidth / this.zoom, this.host.clientHeight / this.zoom];
    const [wide, high] = [Math.round(w * ratio), Math.round(h * ratio)];
    if (canvas.width !== wide || canvas.height !== high) Object.assign(canvas, { width: wide, height: high });
    const pen = canvas.getContext("2d");
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, w, h);
    pen.font = `13px ${this.font}`;
    pen.textBaseline = "middle";
    pen.lineJoin = "round";
    this.pen = pen;
    return [w, h];
  }

  #stroke(colour, width, build, dash = [], alpha = 1) {
    const { pen } = this;
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.globalAlpha = alpha;
    pen.setLineDash(dash);
    pen.beginPath();
    build(pen);
    pen.stroke();
    pen.setLineDash([]);
    pen.globalAlpha = 1;
  }

  #line(colour, width, x1, y1, x2, y2, dash, alpha) {
    this.#stroke(colour, width, (pen) => (pen.moveTo(x1, y1), pen.lineTo(x2, y2)), dash, alpha);
  }

  #dot(colour, x, y) {
    const { pen } = this;
    pen.fillStyle = colour;
    this.#stroke(this.colours.paper, 2, () => (pen.arc(x, y, 5.5, 0, 7), pen.fill()));
  }

  #label(text, x, y, align, bold = "") {
    const { pen, colours } = this;
    pen.font = `${bold} 13px ${this.font}`;
    pen.textAlign = align;
    pen.lineWidth = 4;
    pen.strokeStyle = colours.paper;
    pen.strokeText(text, x, y);
    pen.fillStyle = colours.ink;
    pen.fillText(text, x, y);
    return pen.measureText(text).width;
  }

  draw() {
    const [w, h] = this.#fit(this.below);
    if (w < 80 || h < 80) return;
    const ahead = this.#ahead();
    const [from, to] = this.#window(ahead);
    const [left, right, top, bottom] = [50, w - 8, 22, h - 24];
    const x = (at) => left + ((at - from) / (to - from)) * (right - left);
    const wide = Math.floor(right - left);
    this.plot = { from, to, x, left, right, top, bottom, panels: [] };
    const shown = PANELS.map((panel) => ({ ...panel, ...this.#spread(panel.name, from, to, wide) })).filter(({ reach }) => reach);
    const tall = (bottom - top - 12 * (shown.length - 1)) / (shown.length || 1);
    shown.forEach((panel, i) => {
      const begins = top + i * (tall + 12);
      this.#panel({ ...panel, top: begins, bottom: begins + tall }, ahead.filter((one) => one.panel === panel.name));
    });
    this.#times(w);
    this.#flags();
    this.#read(this.#cursor);
  }

  // What stands in each column of a panel. The fitted line says how far the panel reaches, so that
  // a lone wild reading does not.
  #spread(name, from, to, wide) {
    const [measured, fitted] = [name, `${name}_fit`].map((series) => {
      const held = (this.held[series] ??= {});
      if (held.low?.length !== wide) Object.assign(held, { low: new Float32Array(wide), high: new Float32Array(wide) });
      return columns(this.at, this.data[series], this.count, from, to, wide, held.low, held.high);
    });
    for (const { low, high } of [fitted, measured]) {
      let [least, most] = [Infinity, -Infinity];
      for (let i = 0; i < wide; i++) {
        if (low[i] < least) least = low[i];
        if (high[i] > most) most = high[i];
      }
      if (least <= most) return { measured, fitted, reach: [least, most] };
    }
    return {};
  }

  #panel(panel, ahead) {
    const { pen, colours, plot, now, format, t } = this;
    const { x, left, right } = plot;
    const { name, top, bottom, dash } = panel;
    const colour = colours[name];
    const level = this.#picture?.[name]?.[panel.level];
    let [low, high] = panel.reach;
    if (known(level)) [low, high] = [Math.min(low, level), Math.max(high, level)];
    const pad = Math.max((panel.least - (high - low)) / 2, (high - low) * 0.09);
    [low, high] = [low - pad, high + pad];
    const y = (c) => bottom - ((c - low) / (high - low)) * (bottom - top);
    plot.panels.push({ name, y });

    const [scale, zero] = format.unit === "F" ? [1.8, 32] : [1, 0];
    const marks = ticks(low * scale + zero, high * scale + zero, Math.max(2, (bottom - top) / 34));
    pen.textAlign = "right";
    pen.fillStyle = colours.ink;
    for (const d of marks) {
      const at = Math.round(y((d - zero) / scale)) + 0.5;
      this.#line(colours.line, 1, left, at, right, at, [], 0.3);
      if (at > top + 5) pen.fillText(format.number(d, marks.some((one) => one % 1) ? 1 : 0), left - 6, at);
    }
    pen.save();
    pen.beginPath();
    pen.rect(left, top, right - left, bottom - top);
    pen.clip();
    for (const one of ahead) this.#band(one, top, bottom, colour);
    if (known(level)) this.#line(colours.ink, 1.2, left, y(level), right, y(level), [2, 4]);
    this.#measured(panel.measured, y, colour);
    this.#fitted(panel.fitted, y, colour, dash);
    pen.restore();
    this.#stroke(colours.line, 1, () => pen.rect(left + 0.5, top + 0.5, right - left - 1, bottom - top - 1));

    const latest = this.#latest(name);
    const end = known(latest) ? y(latest) : top;
    const mark = known(level) ? y(level) : end;
    if (known(level)) this.#label(t(panel.levelWord, { c: format.temperature(level) }), left + 6, mark + (mark > top + 18 ? -9 : 9), "left");
    // The panel's name stands where it hides least, its line's own dashes before it.
    const free = (at) => Math.min(Math.abs(at - end), Math.abs(at - mark) * 0.8);
    const rows = [top + 11, (top + bottom) / 2, ...(ahead.length ? [] : [bottom - 11])];
    const height = rows.reduce((best, at) => (free(at) > free(best) + 4 ? at : best));
    const title = `${t(name)} ${format.temperature(latest, name === "mix" ? 2 : 1)}`;
    const begins = x(now) - 14 - this.#label(title, x(now) - 8, height, "right", "bold");
    this.#line(colour, 2.5, begins - 26, height, begins, height, dash);
    if (known(latest)) this.#dot(colour, x(now), end);
    ahead.forEach((one, row) => {
      const [soon, late] = [one.from, one.to].map((at) => format.number((at - now) / 60));
      const text = `${t(one.word)} ${Number.isFinite(one.to) ? `${soon}–${late}` : `> ${soon}`} min`;
      const middle = (x(one.from) + Math.min(x(one.to), right)) / 2;
      pen.font = `13px ${this.font}`;
      const half = pen.measureText(text).width / 2;
      this.#label(text, Math.min(Math.max(middle, x(now) + half + 6), right - half - 4), bottom - 11 - 17 * row, "center");
    });
  }

  // From the tenth to the ninetieth percent, hatched, with the middle as a line.
  #band({ from, to, p50 }, top, bottom, colour) {
    const { pen, now, plot: { x, right } } = this;
    const [begins, ends] = [x(from), Math.max(Math.min(x(to), right), x(from) + 2)];
    if (begins >= right) return;
    pen.save();
    pen.beginPath();
    pen.rect(begins, top, ends - begins, bottom - top);
    pen.clip();
    pen.fillStyle = colour;
    pen.globalAlpha = 0.14;
    pen.fillRect(begins, top, ends - begins, bottom - top);
    const hatch = () => {
      for (let at = begins - (bottom - top); at < ends; at += 8) {
        pen.moveTo(at, bottom);
        pen.lineTo(at + bottom - top, top);
      }
    };
    this.#stroke(colour, 1, hatch, [], 0.4);
    pen.restore();
    if (known(p50) && p50 >= now) this.#line(colour, 2.5, x(p50), top, x(p50), bottom);
  }

  // Whole dots: a browser without a graphics chip fills them several times as fast.
  #measured({ low, high }, y, colour) {
    const { pen, plot: { left } } = this;
    pen.fillStyle = colour;
    pen.globalAlpha = 0.4;
    for (let i = 0; i < low.length; i++) {
      if (low[i] !== low[i]) continue;
      const top = Math.round(y(high[i])) - 1;
      pen.fillRect(left + i, top, low.length > 900 ? 1 : 2, Math.round(y(low[i])) + 1 - top);
    }
    pen.globalAlpha = 1;
  }

  #fitted({ low, high }, y, colour, dash) {
    const { from, to, left } = this.plot;
    // A break longer than a minute stays a break.
    const longest = Math.max(2, (60 * low.length) / (to - from));
    let last = -Infinity;
    let [drawn, height] = [0, 0];
    this.#stroke(colour, 2, (pen) => {
      for (let i = 0; i < low.length; i++) {
        if (low[i] !== low[i]) continue;
        const at = y((low[i] + high[i]) / 2);
        const broken = i - last > longest;
        last = i;
        // What lies in line with the point before needs none of its own.
        const ends = !(low[i + 1] === low[i + 1]);
        if (!broken && !ends && i - drawn < 6 && Math.abs(at - height) < 0.7) continue;
        pen[broken ? "moveTo" : "lineTo"](left + i + 0.5, at);
        [drawn, height] = [i, at];
      }
    }, dash);
  }

  #latest(name) {
    for (let i = this.count - 1; i >= 0 && this.at[i] > this.now - 30; i--) {
      for (const values of [this.data[`${name}_fit`], this.data[name]]) if (values[i] === values[i]) return values[i];
    }
    return null;
  }

  #times(w) {
    const { pen, colours, format, plot: { from, to, left, right, top, bottom, x } } = this;
    const { unit, ticks: found } = timeTicks(from, to, Math.max(2, Math.floor((right - left) / 74)));
    pen.font = `13px ${this.font}`;
    pen.textAlign = "center";
    pen.fillStyle = colours.ink;
    for (const { at, value } of found) {
      const text = `${format.number(value)} ${unit}`;
      this.#line(colours.line, 1, x(at), bottom, x(at), bottom + 5);
      if (x(at) + pen.measureText(text).width / 2 <= w) pen.fillText(text, x(at), bottom + 15);
    }
    pen.textAlign = "left";
    pen.fillText(`°${format.unit}`, 6, 10);
    this.#line(colours.ink, 1, x(this.now), top, x(this.now), bottom, [1, 3]);
  }

  #flags() {
    const { pen, colours, plot: { from, to, right, bottom, x } } = this;
    let free = 32;
    const shown = this.#marks.filter(({ at }) => at >= from && at <= to).sort((a, b) => a.at - b.at);
    shown.forEach((mark, i) => {
      const at = x(mark.at);
      this.#line(colours.ink, 1, at, 13, at, bottom, [], 0.4);
      pen.fillStyle = colours.ink;
      this.#stroke(colours.ink, 1.3, () => {
        pen.moveTo(at, 14);
        for (const [dx, y] of [[0, 4], [9, 8], [0, 12]]) pen.lineTo(at + dx, y);
        // What was recognised without a mark has an empty flag.
        if (mark.by !== "detected") pen.fill();
      });
      const text = this.t(FLAGS[mark.word]);
      const width = pen.measureText(text).width;
      const next = shown[i + 1] ? x(shown[i + 1].at) : right;
      if (at < free - 2 || at + 13 + width > next) return;
      pen.fillText(text, at + 12, 9);
      free = at + 16 + width;
    });
  }

  // --- reading a value ------------------------------------------------------------------------

  #point(event) {
    if (!this.plot) return;
    const { from, to, left, right } = this.plot;
    const across = (event.clientX - this.above.getBoundingClientRect().left) / this.zoom;
    this.#read(from + ((across - left) / (right - left)) * (to - from));
  }

  #key(event) {
    if (!this.plot || !this.count) return;
    const { from, to, left, right } = this.plot;
    const step = Math.max(1, ((to - from) / (right - left)) * 2) * (event.shiftKey ? 10 : 1);
    const here = this.#cursor ?? this.now;
    const goes = { ArrowLeft: here - step, ArrowRight: here + step, PageDown: here - 10 * step, PageUp: here + 10 * step, Home: from, End: this.now };
    if (event.key === "Escape") this.#read(null);
    if (!(event.key in goes)) return;
    event.preventDefault();
    this.#read(goes[event.key]);
  }

  #read(time) {
    this.#cursor = time;
    const [w] = this.#fit(this.above);
    if (time === null || !this.plot || !this.count) return;
    const { pen, colours, format, t, plot: { from, top, bottom, x, panels } } = this;
    const nearest = firstAt(this.at, this.count, Math.min(Math.max(time, from), this.now));
    const before = Math.max(nearest - 1, 0);
    const i = nearest < this.count && this.at[nearest] - time < time - this.at[before] ? nearest : before;
    const at = (this.#cursor = this.at[i]);
    const two = (n) => String(Math.floor(n)).padStart(2, "0");
    const lines = [at >= HOUR ? `${Math.floor(at / HOUR)}:${two((at / 60) % 60)}:${two(at % 60)}` : `${Math.floor(at / 60)}:${two(at % 60)}`];
    this.#line(colours.ink, 1, x(at), top, x(at), bottom);
    for (const { name, y } of [...panels].reverse()) {
      const [measured, fitted] = [this.data[name][i], this.data[`${name}_fit`][i]];
      if (known(measured)) lines.push(`${t(name)} ${format.temperature(measured, 2)}`);
      if (known(fitted)) lines.push(`${t(name)}, ${t("fitted")} ${format.temperature(fitted, 2)}`);
      const value = known(fitted) ? fitted : measured;
      if (known(value)) this.#dot(colours.ink, x(at), y(value));
    }
    if (known(this.data.frozen[i])) lines.push(`${t("frozen")} ${format.number(this.data.frozen[i])} %`);
    const near = this.#marks.find((mark) => Math.abs(x(mark.at) - x(at)) < 5);
    if (near) lines.push(near.text ?? t(FLAGS[near.word]));
    const wide = Math.max(...lines.map((text) => pen.measureText(text).width)) + 16;
    const left = Math.max(Math.min(x(at) + 12 + wide > w ? x(at) - 12 - wide : x(at) + 12, w - wide - 2), 2);
    pen.fillStyle = colours.paper;
    pen.fillRect(left, top + 6, wide, lines.length * 18 + 8);
    this.#stroke(colours.ink, 1, () => pen.rect(left + 0.5, top + 6.5, wide - 1, lines.length * 18 + 7));
    pen.fillStyle = colours.ink;
    lines.forEach((text, n) => pen.fillText(text, left + 8, top + 20 + n * 18));
    for (const [key, value] of [["min", this.at[0]], ["max", this.now], ["now", at]]) this.above.setAttribute(`aria-value${key}`, Math.round(value));
    this.above.setAttribute("aria-valuetext", lines.join(", "));
  }
}
