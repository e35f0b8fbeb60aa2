// The shapes that the rig's drawing is made of: figures only, nothing of the page.

export const OUTER = { w: 156, d: 188, p: 2.7 };
export const INNER = { w: 110, d: 146, p: 2.5 };
export const METAL = 4.5;
export const MIX_TOP = 44;

export const clamp = (x, low = 0, high = 1) => Math.min(Math.max(x, low), high);
export const known = (x) => typeof x === "number" && Number.isFinite(x);
export const n1 = (x) => Math.round(x * 10) / 10;

// Crushed ice fills 0.62 of its room (common practice, no source). As it melts the bed sinks while
// brine fills the gaps from below, until the bed floats; from then on it only gets thinner. All in
// shares of the height of the ice as it was put in.
export function bathLevels(share) {
  const s = clamp(share);
  const packed = 0.62 * 0.92;
  const afloat = packed * ((1 - s) / 1.15 + s / 0.92);
  if (s >= afloat) return { top: s, bottom: 0, brine: Math.min((packed / 0.38 / 1.15) * (1 - s), s) };
  return { top: afloat, bottom: afloat - s, brine: afloat - 0.1 * s };
}

// How stiff a mix looks whose water is frozen by so many percent: 0 pours, 1 stands in peaks.
export const stiffness = (frozenPct) => clamp((frozenPct - 2) / 33) ** 0.8;

// The wall's ice, many times as thick as it is, in the drawing's units.
export const rindThickness = (iceG) => (iceG > 0 ? Math.min(1.5 + 0.11 * iceG, 17) : 0);

// Half of a bowl's width at a depth below its rim.
export function halfWidth({ w, d, p }, y) {
  return y <= 0 ? w : y >= d ? 0 : w * (1 - (y / d) ** p) ** (1 / p);
}

export const inset = ({ w, d, p }, by) => ({ w: w - by, d: d - by, p });

// The same figures each time that it is asked with the same seed.
export function dice(seed) {
  let s = seed;
  return () => {
    s = (s + 0x9e3779b9) | 0;
    let x = Math.imul(s ^ (s >>> 16), 0x21f0aaad);
    x = Math.imul(x ^ (x >>> 15), 0x735a2d97);
    return ((x ^ (x >>> 15)) >>> 0) / 4294967296;
  };
}

export const path = (points) => points.map(([x, y], i) => `${i ? "L" : "M"}${n1(x)} ${n1(y)}`).join("");
export const onward = (points) => path(points).replace("M", "L");

// Points down one wall of a bowl and up the other, from a depth on.
export function bowlLine(shape, from = 0) {
  const right = [];
  for (let i = 0; i <= 30; i++) {
    // Closer together where the bottom turns.
    const y = from + (shape.d - from) * Math.sin((i / 30) * (Math.PI / 2));
    right.push([halfWidth(shape, y), y]);
  }
  return [...right.map(([x, y]) => [-x, y]), ...right.reverse()];
}

// Pieces of ice between the bowls, each with its middle and its corners round that.
function icePieces() {
  const roll = dice(12);
  const pieces = [];
  const inner = { ...inset(INNER, -METAL - 6), d: INNER.d + METAL - 2 };
  const outer = inset(OUTER, METAL + 6);
  for (let row = 0; row < 18; row++) {
    for (let column = -13; column <= 13; column++) {
      const x = (column + (row % 2) / 2) * 12 + (roll() - 0.5) * 5;
      const y = 8 + row * 10.3 + (roll() - 0.5) * 4;
      const size = 5.2 + roll() * 2.6;
      const turn = roll() * 6.3;
      const corners = 5 + Math.floor(roll() * 2);
      const shape = [];
      for (let k = 0; k < corners; k++) {
        const angle = turn + ((k + (roll() - 0.5) * 0.5) / corners) * 2 * Math.PI;
        shape.push([Math.cos(angle) * size, Math.sin(angle) * size * 0.86]);
      }
      const fits = Math.abs(x) < halfWidth(outer, y) && Math.abs(x) > halfWidth(inner, y);
      if (fits) pieces.push({ x, y, shape });
    }
  }
  return pieces;
}

// Places in the mix, all over it, in an order that fills it evenly.
function places(seed, count) {
  const roll = dice(seed);
  const shape = inset(INNER, 16);
  return Array.from({ length: count }, (_, i) => {
    const y = MIX_TOP + 4 + ((i * 0.618) % 1) * (INNER.d - MIX_TOP - 24);
    return [(roll() * 2 - 1) * halfWidth(shape, y), y, roll()];
  });
}

export const ICE = icePieces();
export const GRAINS = places(5, 170);
export const FOLDS = places(21, 44);

// The mix's surface from wall to wall: a ripple round the beaters while it is thin, then leaning
// peaks heaped about the middle.
export function surface(stiff, phase) {
  const edge = halfWidth(inset(INNER, METAL), MIX_TOP);
  const points = [];
  for (let i = 0; i <= 90; i++) {
    const u = i / 45 - 1;
    const thin = 5 * Math.exp(-((u / 0.3) ** 2)) + 1.3 * Math.sin(u * 16 - phase) * (1 - u * u);
    // A ridge that rises slowly and breaks quickly, as a peak that has fallen over does.
    const along = (u * 3.1 + 0.21 * Math.sin(u * 5) + 9.35) % 1;
    const ridge = along < 0.7 ? (along / 0.7) ** 1.8 : ((1 - along) / 0.3) ** 1.3;
    const thick = (17 * ridge + 2 * Math.abs(Math.sin(u * 23 + 1)) + 9 * Math.cos(u * 1.57)) * (1 - u ** 6);
    points.push([u * edge, MIX_TOP + thin * (1 - stiff) - thick * stiff]);
  }
  return points;
}

// Ice on the inner bowl's wall: smooth where it clings, needles into the mix.
export function rind(thick) {
  const outside = bowlLine(inset(INNER, METAL - 1), MIX_TOP - 2);
  const roll = dice(31);
  const needles = [];
  for (let i = 1; i < outside.length - 1; i++) {
    const [[ax, ay], [bx, by]] = [outside[i - 1], outside[i + 1]];
    const deep = (thick * (i % 2 ? 0.62 + 0.2 * roll() : 1 + 0.3 * roll())) / (Math.hypot(bx - ax, by - ay) || 1);
    needles.push([outside[i][0] + (by - ay) * deep, outside[i][1] - (bx - ax) * deep]);
  }
  return `${path(outside)}${onward(needles.reverse())}Z`;
}
