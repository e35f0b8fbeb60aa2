// The rig in cross-section: what stands in the kitchen, drawn as it is just now.

import {
  FOLDS, GRAINS, ICE, INNER, METAL, MIX_TOP, OUTER,
  bathLevels, bowlLine, clamp, dice, halfWidth, inset, known, n1, onward, path, rind, rindThickness, stiffness, surface,
} from "./rigshapes.js";
import { shownC } from "./rigstate.js";

const SVG = "http://www.w3.org/2000/svg";
const TURNS_PER_S = 0.9;
const FRAME_MS = 66;
const BEATERS = [-22, 22];
const UNKNOWN = "–";
let drawn = 0;

function set(element, attributes) {
  for (const key in attributes) {
    const value = String(attributes[key]);
    if (element.getAttribute(key) !== value) element.setAttribute(key, value);
  }
  return element;
}

function make(parent, name, attributes) {
  const element = set(document.createElementNS(SVG, name), attributes);
  parent.append(element);
  return element;
}

const line = (parent, d, stroke, width, more) =>
  make(parent, "path", { d, stroke, "stroke-width": width, fill: "none", ...more });

function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

// The page's colours as numbers, whatever notation they are written in, and what is mixed of them.
function palette(host) {
  const pen = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  const style = getComputedStyle(host);
  const read = (name) => {
    pen.fillStyle = style.getPropertyValue(name).trim() || "#808080";
    pen.fillRect(0, 0, 1, 1);
    return [...pen.getImageData(0, 0, 1, 1).data].slice(0, 3);
  };
  const [ink, paper, bath, mix, ice, rule] = ["--ink", "--paper", "--bath", "--mix", "--ice", "--line"].map(read);
  const warn = style.getPropertyValue("--warn") ? read("--warn") : ink;
  const blend = (a, b, share) => `rgb(${a.map((x, i) => Math.round(x + (b[i] - x) * share))})`;
  const white = [255, 255, 255];
  const dark = paper[1] < ink[1];
  return {
    ink: `rgb(${ink})`, paper: `rgb(${paper})`, warn: `rgb(${warn})`, bath: `rgb(${bath})`,
    soft: blend(ink, paper, 0.2), metal: blend(ink, paper, 0.12), shine: blend(ink, paper, 0.62),
    body: blend(paper, ink, 0.14), rule: blend(rule, paper, 0.2), cabinet: blend(paper, ice, 0.16),
    ice: blend(ice, white, 0.6), rind: blend(ice, white, 0.3), iceEdge: blend(ice, dark ? paper : ink, 0.5),
    mixEdge: blend(mix, ink, 0.35), fold: blend(mix, ink, 0.3),
    brine: (cold) => blend(paper, bath, 0.16 + 0.6 * cold),
    mix: (stiff) => blend(paper, mix, (dark ? 0.56 : 0.42) - 0.14 * stiff),
  };
}

export class RigDrawing {
  #phase = 0;
  #stopped = false;
  #scene = "";
  #parts = {};
  #notes = new Map();

  constructor(host, t) {
    this.host = host;
    this.t = t;
    this.id = `rig${++drawn}`;
    this.quiet = matchMedia("(prefers-reduced-motion: reduce)");
    this.quiet.addEventListener("change", () => this.#turn());
    this.svg = make(host, "svg", {
      role: "img", "font-family": "system-ui, sans-serif",
      "aria-labelledby": `${this.id}-title`, "aria-describedby": `${this.id}-desc`,
    });
    Object.assign(this.svg.style, { display: "block", width: "100%", height: "100%", fontVariantNumeric: "tabular-nums" });
    this.title = make(this.svg, "title", { id: `${this.id}-title` });
    this.desc = make(this.svg, "desc", { id: `${this.id}-desc` });
    this.layers = ["defs", "g", "g", "g"].map((name) => make(this.svg, name, {}));
    this.colours = palette(host);
    this.#resized();
    new ResizeObserver(() => this.#resized()).observe(host);
  }

  update(picture, format) {
    this.picture = picture;
    this.format = format;
    this.#draw();
  }

  // A probe of the picture has another figure.
  read() {
    if (!this.seen) return;
    this.#probes();
    this.#figures();
  }

  setTheme() {
    this.colours = palette(this.host);
    this.#again();
  }

  // With the connection lost nobody knows whether it is still beaten.
  still(on) {
    this.#stopped = on;
    this.#turn();
  }

  #resized() {
    const wide = this.host.clientWidth >= 560;
    if (wide === this.wide) return;
    this.wide = wide;
    set(this.svg, { viewBox: wide ? "0 0 740 330" : "0 0 360 366" });
    this.centre = wide ? [370, 96] : [180, 110];
    this.#again();
  }

  #again() {
    const ended = this.picture?.stage === "done" ? this.#scene : "";
    this.#scene = "";
    if (this.picture) this.#draw(ended);
  }

  #draw(ended = this.#scene) {
    const stage = this.picture.stage ?? "ready";
    // A run that has ended leaves on the table what stood there.
    const scene = stage === "done" && ended && ended !== "beat" ? ended : stage;
    if (scene !== this.#scene) this.#build(scene);
    for (const draw of Object.values(this.#parts)) draw();
    this.#probes();
    this.#figures();
    this.#words();
    this.#turn();
  }

  #build(scene) {
    this.#scene = scene;
    this.#parts = {};
    this.#notes.clear();
    this.probeKey = "";
    this.beaters = null;
    for (const layer of this.layers) layer.replaceChildren();
    const [x, y] = this.centre;
    const cold = scene === "rest" || scene === "harden";
    this.place = cold ? [x, y + 28, 0.8] : [x, y, 1];
    for (const [id, colour, gap] of [["bad", this.colours.warn, 4], ["unknown", this.colours.rule, 9]]) {
      const pattern = make(this.layers[0], "pattern", {
        id: `${this.id}-${id}`, width: gap, height: gap, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)",
      });
      line(pattern, `M0 0V${gap}`, colour, 1.5);
    }
    if (cold) this.#freezer(x, y);
    else line(this.layers[1], `M${x - 174} ${y + OUTER.d + 5}h348`, this.colours.rule, 2);
    const group = make(this.layers[1], "g", {
      transform: `translate(${this.place[0]} ${this.place[1]}) scale(${this.place[2]})`,
      "stroke-linejoin": "round", "stroke-linecap": "round",
    });
    this.kind = scene === "base" ? "pot" : scene === "pack" || scene === "harden" ? "tubs" : "bowls";
    if (this.kind === "pot") this.#pot(group);
    else if (this.kind === "tubs") this.#tubs(group, scene === "harden");
    else this.#bowls(group, scene);
  }

  // A freezer's cabinet cut open: the zigzag between its walls is a drawing's sign for insulation.
  #freezer(x, y) {
    const [left, top, wide, high] = [x - 174, y - 13, 348, 207];
    const c = this.colours;
    for (const [by, fill] of [[0, "none"], [13, c.cabinet]]) {
      make(this.layers[1], "rect", {
        x: left + by, y: top + by, width: wide - 2 * by, height: high - 2 * by, rx: 12 - by / 2,
        fill, stroke: c.soft, "stroke-width": 1.6,
      });
    }
    const teeth = (n, dx, dy) => Array.from({ length: n }, (_, i) => `l${dx} ${dy}`.replace("~", i % 2 ? "-6" : "6")).join("");
    const zigzag = (n, start, dx, dy) => `M${start}${teeth(n, dx, dy)}`;
    line(this.layers[1], zigzag(54, `${left + 12} ${top + 3.5}`, 6, "~") + zigzag(54, `${left + 12} ${top + high - 9.5}`, 6, "~")
      + zigzag(31, `${left + 3.5} ${top + 11}`, "~", 6) + zigzag(31, `${left + wide - 9.5} ${top + 11}`, "~", 6), c.rule, 0.9);
    const roll = dice(3);
    const rime = Array.from({ length: 60 }, (_, i) => `M${n1(left + 20 + i * 5.2)} ${top + 13}l${n1(roll() * 3 - 1.5)} ${n1(2 + roll() * 6)}`);
    line(this.layers[1], rime.join(""), c.iceEdge, 1);
  }

  #metal(group, bowl, transform) {
    const g = make(group, "g", { transform });
    const wall = path(bowlLine(inset(bowl, METAL / 2)));
    line(g, wall, this.colours.metal, METAL);
    line(g, wall, this.colours.shine, METAL - 2.4);
    // The rolled rim.
    for (const s of [-1, 1]) line(g, `M${s * (bowl.w - 2)} 1h${s * 6}a2.6 2.6 0 1 1 0 5.2`, this.colours.metal, 2.6);
  }

  #bowls(group, scene) {
    const { id, colours: c } = this;
    const gap = make(this.layers[0], "clipPath", { id: `${id}-gap` });
    const hole = bowlLine(INNER).map(([x, y]) => [x, y - 8]);
    make(gap, "path", { d: `${path(bowlLine(inset(OUTER, METAL)))}Z${path(hole)}Z`, "clip-rule": "evenodd" });
    const bath = make(group, "g", { "clip-path": `url(#${id}-gap)` });
    const [brine, waves, ice, facets, level] = [0, 1, 1.1, 0.7, 1.8].map((width) => line(bath, "", "none", width));
    const gauge = line(group, "", c.soft, 1.4, { fill: c.soft });
    this.#metal(group, OUTER, "");
    const inner = make(group, "g", { transform: "translate(0 -8)" });
    const held = make(this.layers[0], "clipPath", { id: `${id}-held` });
    make(held, "path", { d: `M-120 -60H120V0${onward(bowlLine(inset(INNER, METAL - 0.5)))}L-120 0Z` });
    const mix = make(inner, "g", { "clip-path": `url(#${id}-held)` });
    const [body, folds, grains, layer] = [1.6, 1.6, 0.8, 0.9].map((width) => line(mix, "", "none", width));
    this.#metal(group, INNER, "translate(0 -8)");
    if (scene === "beat") this.#mixer(inner);
    if (scene === "rest") {
      line(group, `M-${OUTER.w + 7} -14h${2 * OUTER.w + 14}v6h-${2 * OUTER.w + 14}z`, c.metal, 2.2, { fill: c.body });
      line(group, "M-14 -14c0 -11 28 -11 28 0", c.metal, 2.2);
    }
    this.#parts.bath = () => this.#bath({ brine, waves, ice, facets, level, gauge });
    this.#parts.mix = () => this.#mix({ body, folds, grains, layer }, scene !== "ready");
  }

  // A hand mixer from the front; #pose sets the beaters' wires.
  #mixer(group) {
    const c = this.colours;
    const top = this.wide ? -82 : -98;
    const g = make(group, "g", {});
    this.beaters = BEATERS.map((x) => {
      const wires = [0, 1, 2].map(() => line(g, "", c.ink, 1.7));
      line(g, `M${x} ${top + 30}V36`, c.ink, 3.4);
      line(g, `M${x - 4} 36h8l-1.5 7h-5z`, c.ink, 1, { fill: c.ink });
      return { x, wires, arrow: line(g, "", c.ink, 1.6) };
    });
    const dome = `M-38 ${top + 32}q-5 -34 24 -34h28q29 0 24 34q0 4 -5 4h-66q-5 0 -5 -4z`;
    line(g, dome, c.ink, 2, { fill: c.body });
    line(g, `M-12 ${top + 9}h24M-9 ${top + 15}h18M-6 ${top + 21}h12`, c.soft, 1.6);
    for (const x of BEATERS) line(g, `M${x - 6} ${top + 36}h12v5h-12z`, c.ink, 1.4, { fill: c.shine });
    this.#pose();
  }

  #pose() {
    this.beaters.forEach(({ x, wires, arrow }, side) => {
      const turn = side ? -1 : 1;
      wires.forEach((wire, k) => {
        const angle = turn * this.#phase + (k * Math.PI) / 3 + side * 0.5;
        const [right, left] = [n1(x + 19 * Math.cos(angle)), n1(x - 19 * Math.cos(angle))];
        set(wire, {
          d: `M${x} 42C${right} 50 ${right} 112 ${x} 118C${left} 112 ${left} 50 ${x} 42`,
          "stroke-opacity": n1(0.55 + 0.45 * Math.abs(Math.sin(angle))),
        });
      });
      // Without motion an arrow says that they turn, and which way.
      const still = this.quiet.matches && this.picture.stage === "beat";
      set(arrow, { d: still ? `M${x - 9 * turn} 8q${9 * turn} 9 ${18 * turn} 0m${-5 * turn} -1l${5 * turn} 1l${-1 * turn} 5` : "" });
    });
  }

  #turn() {
    if (!this.beaters) return;
    this.#pose();
    this.turning = this.picture.stage === "beat" && !this.#stopped && !this.quiet.matches;
    if (!this.turning || this.waiting) return;
    this.waiting = true;
    let last = performance.now();
    const frame = (now) => {
      this.waiting = this.turning && this.beaters !== null && this.svg.isConnected;
      if (!this.waiting) return;
      requestAnimationFrame(frame);
      if (now - last < FRAME_MS) return;
      this.#phase += Math.min(now - last, 200) * 0.001 * TURNS_PER_S * 2 * Math.PI;
      last = now;
      this.#pose();
      if (this.stiff < 0.5) this.ripple();
    };
    requestAnimationFrame(frame);
  }

  #bath({ brine, waves, ice, facets, level, gauge }) {
    const { bath } = this.picture;
    const c = this.colours;
    const weighed = known(bath.ice_left_g) && bath.ice_put_g > 0;
    const made = this.made = weighed || known(bath.brine_pct) || (known(bath.c) && bath.c < 1);
    const share = weighed ? bath.ice_left_g / bath.ice_put_g : 0.75;
    const levels = bathLevels(share);
    const up = (height) => OUTER.d - METAL - (OUTER.d - METAL - 7) * height;
    const top = up(weighed ? levels.brine : 0.72);
    const wave = Array.from({ length: 41 }, (_, i) => [i * 8 - 160, top + Math.sin(i * 1.4) * 1.1]);
    set(brine, {
      d: made ? `${path(wave)}V190H-160Z` : "", "fill-opacity": weighed ? 1 : 0.5,
      fill: known(bath.c) ? c.brine(clamp((4 - bath.c) / 25)) : `url(#${this.id}-unknown)`,
    });
    const roll = dice(8);
    const crests = Array.from({ length: 40 }, () => [(roll() * 2 - 1) * 150, up(roll() * 0.97)]).filter(([, y]) => y > top + 7);
    set(waves, { d: made ? crests.map(([x, y]) => `M${n1(x)} ${n1(y)}q3 -2.4 6 0t6 0`).join("") : "", stroke: c.bath, "stroke-opacity": 0.5 });
    const worn = weighed ? 0.8 + 0.2 * share : 1;
    const bed = ICE.filter(({ y }) => made && y >= up(levels.top) - 3 && y <= up(levels.bottom) + 2).map(({ x, y, shape }) => ({
      x, y, corners: shape.map(([a, b]) => [x + a * worn, y + b * worn]),
    }));
    set(ice, {
      d: bed.map(({ corners }) => `${path(corners)}Z`).join(""), stroke: weighed ? c.iceEdge : c.soft,
      fill: weighed ? c.ice : "none", "stroke-dasharray": weighed ? "none" : "2 3",
    });
    const facet = ({ x, y, corners }) => path([corners[0], [x + 1, y], corners[2]]);
    set(facets, { d: weighed ? bed.map(facet).join("") : "", stroke: c.iceEdge });
    // Nothing weighed: nobody knows where the ice stands, and the broken line says so.
    set(level, { d: made && !weighed ? `M-160 ${n1(up(0.75))}h320` : "", stroke: c.ink, "stroke-dasharray": "8 5" });
    set(gauge, { d: weighed ? this.#gauge(bath, up) : "" });
  }

  // Beside the bowl: where the ice stood when it was put in, where it stands, and how sure that is.
  #gauge(bath, up) {
    const at = (g) => n1(up(bathLevels(g / bath.ice_put_g).top) - 2);
    const now = at(bath.ice_left_g);
    const x = n1(halfWidth(OUTER, now) + 3);
    const arrow = `M${x} ${now}l8 -3.6v7.2z`;
    if (!known(bath.ice_sd)) return arrow;
    const [high, low] = [at(bath.ice_left_g + 2 * bath.ice_sd), at(bath.ice_left_g - 2 * bath.ice_sd)];
    return `${arrow}M${x + 9} ${high}h5m-2.5 0V${low}m-2.5 0h5`;
  }

  #mix({ body, folds, grains, layer }, poured) {
    const { mix, wall } = this.picture;
    const c = this.colours;
    const frozen = known(mix.frozen_pct) ? mix.frozen_pct : 0;
    this.stiff = stiffness(frozen);
    this.ripple = () => {
      const held = bowlLine(inset(INNER, METAL - 1), MIX_TOP).reverse();
      const d = poured ? `${path(surface(this.stiff, this.#phase * 1.7))}${onward(held)}Z` : "";
      set(body, { d, stroke: c.mixEdge, fill: known(mix.c) ? c.mix(this.stiff) : `url(#${this.id}-unknown)` });
    };
    this.ripple();
    const fold = ([x, y, r]) => {
      const w = 10 + r * 13;
      return `M${n1(x - w / 2)} ${n1(y)}q${n1(w / 2)} ${n1(-3 - 7 * this.stiff)} ${n1(w)} 0q${x < 0 ? 3 : -3} 4 -5 4`;
    };
    const count = (of, share) => of.slice(0, poured ? Math.round(of.length * clamp(share)) : 0);
    set(folds, { d: count(FOLDS, this.stiff).map(fold).join(""), stroke: c.fold, "stroke-opacity": 0.8 });
    const grain = ([x, y, r]) => `M${n1(x)} ${n1(y - 1.8 - r)}l2 ${n1(1.8 + r)}l-2 ${n1(1.8 + r)}l-2 ${n1(-1.8 - r)}z`;
    set(grains, { d: count(GRAINS, frozen / 40).map(grain).join(""), fill: c.ice, stroke: c.mixEdge });
    const thick = poured && wall ? rindThickness(wall.ice_g) : 0;
    set(layer, { d: thick ? rind(thick) : "", fill: c.rind, stroke: c.iceEdge });
  }

  #tubs(group, closed) {
    const c = this.colours;
    const [top, bottom, w] = [closed ? 66 : 102, OUTER.d, closed ? 58 : 54];
    const slope = (y) => w - 2 - (7 * (y - top)) / (bottom - top);
    if (!closed) this.#tipped(group);
    [-72, 72].forEach((x, which) => {
      const tub = make(group, "g", { transform: `translate(${x} 0)` });
      const full = closed || !which ? top + 10 : top + 48;
      const heap = Array.from({ length: 21 }, (_, i) => {
        const u = i / 10 - 1;
        return [u * slope(full), full - (closed ? 0 : 9 * Math.abs(Math.sin(u * 5 + which)) * (1 - u * u))];
      });
      line(tub, `${path(heap)}L${slope(bottom)} ${bottom - 3}H${-slope(bottom)}Z`, c.mixEdge, 1.6, { fill: c.mix(0.7) });
      const crystals = line(tub, "", c.iceEdge, 1);
      const core = line(tub, "", c.mixEdge, 1.6, { "stroke-dasharray": "4 4" });
      line(tub, `M${-w} ${top}L${-w + 7} ${bottom - 3}q0 3 4 3H${w - 11}q4 0 4 -3L${w} ${top}`, c.metal, 3);
      if (!closed) return;
      line(tub, `M${-w - 5} ${top}v-9q0 -3 3 -3h${2 * w + 4}q3 0 3 3v9z`, c.metal, 2, { fill: c.body });
      this.#parts[x] = () => this.#hardened(crystals, core, slope, (full + bottom) / 2, (bottom - full) / 2 - 6, which);
    });
  }

  // A tub hardens from outside: crystals there, and a soft core that shrinks.
  #hardened(crystals, core, slope, middle, tall, seed) {
    const { frozen_pct } = this.picture.mix;
    const left = known(frozen_pct) ? 1 - 0.9 * clamp((frozen_pct - 25) / 50) : 1;
    const [w, h] = [(slope(middle) - 6) * left, tall * left];
    const roll = dice(41 + seed);
    const all = Array.from({ length: 150 }, () => [(roll() * 2 - 1) * (slope(middle) - 5), (roll() * 2 - 1) * tall]);
    const hard = all.filter(([x, y]) => (x / w) ** 4 + (y / h) ** 4 > 1);
    set(crystals, { d: known(frozen_pct) ? hard.map(([x, y]) => `M${n1(x - 2)} ${n1(middle + y)}h4m-2 -2v4`).join("") : "" });
    const rounded = [[-1, 0], [-0.9, -0.9], [0, -1], [0.9, -0.9], [1, 0], [0.9, 0.9], [0, 1], [-0.9, 0.9]];
    const at = (i) => rounded[i % 8].map((v, k) => n1(v * [w, h][k] + k * middle)).join(" ");
    const oval = `M${at(0)}Q${at(1)} ${at(2)}Q${at(3)} ${at(4)}Q${at(5)} ${at(6)}Q${at(7)} ${at(8)}`;
    set(core, { d: known(frozen_pct) && left > 0.15 ? oval : "" });
  }

  // The inner bowl tipped over the first tub.
  #tipped(group) {
    const c = this.colours;
    const bowl = { w: 62, d: 84, p: INNER.p };
    const g = make(group, "g", { transform: "translate(-58 6) rotate(112)" });
    const wall = bowlLine(inset(bowl, METAL - 1)).filter(([x]) => x > -30);
    const mass = { fill: c.mix(0.7) };
    line(g, `${path(wall)}L58 -6q-40 14 -70 62z`, c.mixEdge, 1.6, mass);
    this.#metal(g, bowl, "");
    line(group, "M-70 44q10 18 6 40q-2 18 6 30h-32q12 -16 8 -34q-2 -16 -4 -22z", c.mixEdge, 1.6, mass);
  }

  #pot(group) {
    const c = this.colours;
    const top = Array.from({ length: 31 }, (_, i) => [i * 6.37 - 95.5, 92 + Math.sin(i)]);
    line(group, `${path(top)}V176q0 7 -8 7H-88q-8 0 -8 -7Z`, c.mixEdge, 1.6, { fill: c.mix(0) });
    const steam = line(group, "", c.rule, 2.2);
    line(group, "M-98 52V176q0 10 10 10H88q10 0 10 -10V52", c.metal, METAL);
    line(group, "M-104 50h10M94 50h10", c.metal, 4.4);
    for (const s of [-1, 1]) line(group, `M${s * 99} 74h${s * 26}q${s * 8} 0 ${s * 8} 8t${-s * 8} 8h${-s * 26}`, c.metal, 3.4);
    line(group, "M-26 148L24 -6", c.metal, 4.5);
    line(group, "M-26 148q-16 20 -6 25q15 0 12 -23z", c.metal, 2, { fill: c.body });
    this.#parts.pot = () => {
      const { mix } = this.picture;
      const wisps = known(mix.c) ? Math.round(clamp((mix.c - 30) / 40) * 5) : 0;
      const wisp = (_, i) => `M${(i - wisps / 2) * 32 + 12} 80c-9 -13 9 -22 0 -36s7 -18 1 -30`;
      set(steam, { d: Array.from({ length: wisps }, wisp).join("") });
    };
  }

  // Where a probe's rod begins and where its tip is, in the stage's own measures.
  #spot(place, index) {
    const s = index % 2 ? -1 : 1;
    const deep = this.#scene === "pack" ? 168 : 130;
    const spots = {
      bowls: {
        bath: [[-145 * s, -18], [-131 * s, 84 - 34 * Math.floor(index / 2)]], mix: [[116 * s, -26], [66 * s, 84]],
        wall: [[-117 * s, -26], [-101 * s, 58]], core: [[116, -26], [66, 84]],
      },
      tubs: { core: [[72 * s, 30], [72 * s, deep]], mix: [[72 * s, 30], [72 * s, deep]] },
      pot: { mix: [[70 * s, -8], [52 * s, 132]] },
    };
    const room = this.#scene === "rest" || this.#scene === "harden" ? null : [[166, 192], [166, 176]];
    return { ...spots[this.kind], room, freezer: room ? null : [[172, -34], [172, -25]] }[place] ?? null;
  }

  #probes() {
    const counted = {};
    this.seen = this.picture.probes.map((probe) => {
      counted[probe.place] = (counted[probe.place] ?? -1) + 1;
      return { ...probe, bad: probe.quality !== "good", spot: this.#spot(probe.place, counted[probe.place]) };
    });
    const key = JSON.stringify(this.seen.map(({ name, bad, spot }) => [name, bad, spot]));
    if (key === this.probeKey) return;
    this.probeKey = key;
    const [layer, c, [x0, y0, scale]] = [this.layers[2], this.colours, this.place];
    layer.replaceChildren();
    for (const { spot, bad } of this.seen.filter((probe) => probe.spot)) {
      const [[ax, ay], [x, y]] = spot.map(([px, py]) => [n1(x0 + px * scale), n1(y0 + py * scale)]);
      const ink = bad ? c.warn : c.ink;
      line(layer, `M${ax} ${ay}L${x} ${y}`, c.paper, 5.5);
      line(layer, `M${ax} ${ay}L${x} ${y}`, ink, 2.4, { "stroke-dasharray": bad ? "3 4" : "none" });
      make(layer, "circle", { cx: x, cy: y, r: bad ? 8 : 5.5, fill: bad ? c.paper : ink, stroke: bad ? ink : c.paper, "stroke-width": 2 });
      if (!bad) continue;
      make(layer, "circle", { cx: x, cy: y, r: 8, fill: `url(#${this.id}-bad)` });
      line(layer, `M${x - 10} ${y - 10}l20 20m0 -20l-20 20`, ink, 2.8);
    }
  }

  #note(id, kind, attributes) {
    if (!this.#notes.has(id)) this.#notes.set(id, make(this.layers[3], kind, {}));
    return set(this.#notes.get(id), attributes);
  }

  #text(id, x, y, size, words, more) {
    const c = this.colours;
    say(this.#note(id, "text", {
      x: n1(x), y: n1(y), "font-size": size, fill: c.ink, stroke: c.paper, "stroke-width": 3, "paint-order": "stroke",
      "stroke-linejoin": "round", ...more,
    }), words);
  }

  // The figure in large type, its unit small.
  #number(id, x, y, size, words, anchor) {
    const [figure, unit = ""] = words.split(/\s(?=\S*$)/);
    const element = this.#note(id, "text", { x, y, fill: this.colours.ink, "font-weight": 700, "text-anchor": anchor });
    while (element.childNodes.length < 2) make(element, "tspan", {});
    const [large, small] = element.childNodes;
    say(set(large, { "font-size": size }), figure);
    say(set(small, { "font-size": size / 2, dx: 3 }), unit);
  }

  // A rule from `low` to `high`: the figure a lozenge, its band a bar, its limit a flag.
  #rule(id, x, y, wide, low, high, value, sd, limit) {
    const c = this.colours;
    const at = (v) => n1(x + wide * clamp((v - low) / (high - low)));
    const stroke = (name, d, colour, width, more) =>
      this.#note(`${id}-${name}`, "path", { d, stroke: colour, "stroke-width": width, fill: "none", ...more });
    const ticks = Array.from({ length: 5 }, (_, i) => `M${n1(x + (wide * i) / 4)} ${y - 3}v6`);
    stroke("rule", `M${x} ${y}h${wide}${ticks.join("")}`, c.rule, 1.2);
    const band = known(value) && known(sd) && sd > 0;
    stroke("band", band ? `M${at(value - 2 * sd)} ${y}H${at(value + 2 * sd)}` : "", c.shine, 6);
    stroke("flag", known(limit) ? `M${at(limit)} ${y + 6}v-19l9 4l-9 4` : "", c.ink, 1.8);
    const over = known(value) && known(limit) && value > limit && this.made;
    const dot = known(value) ? `M${at(value)} ${y - 7}l5 7l-5 7l-5 -7z` : "";
    stroke("dot", dot, over ? c.warn : c.ink, 2, { fill: over ? c.paper : c.ink });
    return over;
  }

  #figures() {
    const { t, format, wide, colours: c, picture: { bath, mix, wall } } = this;
    const small = wide ? 17 : 14;
    const [size, top, x, right] = wide ? [38, 40, 556, 732] : [29, 16, 352, 352];
    const anchor = wide ? "start" : "end";
    const soft = { fill: c.soft };
    const bold = { "font-weight": 700 };
    const faults = (place) => this.seen.filter((probe) => probe.place === place && probe.bad);
    const named = (place) => faults(place).map((probe) => `✕ ${probe.name}: ${probe.quality_text}`).join(", ");
    // Where no probe of a place is good the figure is the program's own.
    const word = (text, place) => {
      const all = this.seen.filter((probe) => probe.place === place);
      return all.length && all.every((probe) => probe.bad) ? `${t(text)}, ${t("estimated")}` : t(text);
    };
    const inBowls = this.kind === "bowls";
    if (inBowls) {
      this.#text("bath-word", 8, top, small + 1, word("bath", "bath"), soft);
      this.#number("bath", 8, top + size, size, format.temperature(shownC(this.picture, "bath")), "start");
      const low = Math.min(-22, known(bath.c) ? Math.floor(bath.c) : 0);
      const over = this.#rule("bath", 12, top + size + 22, wide ? 160 : 112, low, 2, bath.c, bath.sd, bath.limit_c) && this.made;
      const fault = named("bath");
      const limit = known(bath.limit_c) ? over ? t("above its limit") : t("limit {c}", { c: format.temperature(bath.limit_c) }) : "";
      this.#text("bath-limit", 8, top + size + (wide ? 47 : 44), small, fault || limit, fault || over ? { ...bold, fill: c.warn } : soft);
    }
    const core = this.kind === "tubs" && this.seen.find((probe) => probe.place === "core");
    const place = core ? "core" : "mix";
    this.#text("mix-word", x, top, small + 1, word(this.kind === "pot" ? "base" : place, place), { ...soft, "text-anchor": anchor });
    this.#number("mix", x, top + size, size, format.temperature(core ? core.value_c : shownC(this.picture, "mix")), anchor);
    if (this.kind !== "pot") {
      const share = known(mix.frozen_pct) ? `${format.number(mix.frozen_pct)} ± ${format.number(2 * (mix.frozen_sd ?? 0))} %` : UNKNOWN;
      this.#text("frozen", right, top + size + 23, wide ? 19 : 17, share, { ...bold, "text-anchor": "end" });
      this.#text("frozen-word", wide ? x : right - share.length * 10.6 - 6, top + size + 23, wide ? 16 : 14, t("frozen"), { ...soft, "text-anchor": anchor });
      if (!faults(place).length) this.#rule("frozen", wide ? x : 232, top + size + 38, wide ? 172 : 116, 0, core ? 80 : 60, mix.frozen_pct, mix.frozen_sd);
      for (const name of ["rule", "band", "dot"]) this.#notes.get(`frozen-${name}`)?.style.setProperty("display", faults(place).length ? "none" : "");
    }
    this.#text("mix-fault", x, top + size + (wide ? 47 : 44), small, named(place), { ...bold, fill: c.warn, "text-anchor": anchor });

    const weighed = known(bath.ice_left_g) && bath.ice_put_g > 0;
    const pm = (sd, write) => (known(sd) ? `± ${write(2 * sd)}` : "");
    const percent = (v) => `${format.number(v, 1)} %`;
    const cells = [
      [t("brine"), known(bath.brine_pct) ? percent(bath.brine_pct) : UNKNOWN, pm(bath.brine_sd, percent), wide ? [8, 180] : [8, 324], "start"],
      [t("ice left"), weighed ? format.mass(bath.ice_left_g) : t("not weighed"), weighed ? pm(bath.ice_sd, format.mass) : "",
        wide ? [8, 256] : [352, 324], wide ? "start" : "end"],
      wall?.ice_g >= 5
        ? [t("ice on the wall"), format.mass(wall.ice_g), pm(wall.sd, format.mass), wide ? [732, 256] : [180, 324], wide ? "end" : "middle"]
        : ["", "", "", [0, 0], "start"],
    ];
    cells.forEach(([name, value, spread, [cx, cy], side], i) => {
      const shown = (text) => (inBowls ? text : "");
      const more = { "text-anchor": side };
      this.#text(`cell${i}`, cx, cy, small, shown(name), { ...soft, ...more });
      this.#text(`value${i}`, cx, cy + small + 7, small + 5, shown(value), { ...bold, ...more });
      this.#text(`sd${i}`, cx, cy + small * 2.6, small - 1, shown(spread), { ...soft, ...more });
    });
    this.#elsewhere();
  }

  // Probes of other places carry their figures with them.
  #elsewhere() {
    const [x0, y0, scale] = this.place;
    for (const { name, place, spot, bad, value_c, quality_text } of this.seen) {
      if (!spot || !["room", "freezer", "wall"].includes(place)) continue;
      const [x, y] = [x0 + spot[1][0] * scale, y0 + spot[1][1] * scale];
      const figure = bad ? quality_text : this.format.temperature(value_c);
      const more = { "text-anchor": place === "wall" ? "start" : "end", "font-weight": 700, fill: bad ? this.colours.warn : this.colours.ink };
      const label = bad ? `✕ ${name}` : name;
      if (place === "room") {
        this.#text(`${name}-word`, x + 12, y - 28, 13, label, { ...more, "font-weight": 400 });
        this.#text(name, x + 12, y - 14, 13, figure, more);
      } else this.#text(name, place === "wall" ? x + 9 : x - 10, y + 5, 13, `${label} ${figure}`, more);
    }
  }

  // The same for those who do not see it.
  #words() {
    const { t, format, picture: { stage_text, bath, mix, wall } } = this;
    const temperature = (place) => `${t(place)} ${format.temperature(shownC(this.picture, place))}`;
    const parts = [temperature("mix")];
    if (this.kind === "bowls") {
      parts.unshift(temperature("bath"), t("limit {c}", { c: format.temperature(bath.limit_c) }),
        `${t("ice left")} ${known(bath.ice_left_g) ? format.mass(bath.ice_left_g) : t("not weighed")}`);
    }
    if (known(mix.frozen_pct)) parts.push(`${t("frozen")} ${format.number(mix.frozen_pct)} %`);
    if (wall?.ice_g >= 5) parts.push(`${t("ice on the wall")} ${format.mass(wall.ice_g)}`);
    for (const probe of this.seen) if (probe.bad) parts.push(`${probe.name}: ${probe.quality_text}`);
    say(this.title, `${t("The rig in cross-section")}: ${stage_text}`);
    say(this.desc, `${parts.join(", ")}.`);
  }
}
