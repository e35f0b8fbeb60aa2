// One figure alone, read from across the kitchen.

import { el, find, say, show, whenChanged } from "./dom.js";
import { fitDigits } from "./fit.js";
import { largeFigures } from "./now.js";

const LEAST_HIGH_PX = 126; // 20 mm on a 6-inch phone

/** Shows the figure `wanted`, or the next one that there is; returns its name. */
export function renderBig(rig, format, wanted, old) {
  const figures = largeFigures(rig, format);
  const name = figures[wanted] ? wanted : figures.next ? "next" : "bath";
  const { label, digits, unit, sub } = figures[name];
  say(find("big-label"), label);
  const node = find("big-digits");
  whenChanged(node, [digits, unit, innerWidth, innerHeight], () => {
    // Tenths are for near; they stand small behind whole degrees that are for far.
    const [, whole, part] = /^([^.,]*)([.,]\d)?$/.exec(digits) ?? [null, digits, ""];
    const beside = part
      ? el(
          "span",
          { className: "beside" },
          el("small", { className: "above" }, unit),
          el("small", { className: "part" }, part),
        )
      : el("small", {}, ` ${unit}`);
    node.replaceChildren(el("span", {}, whole, beside));
    fit();
  });
  node.className = name;
  say(find("big-sub"), sub);
  find("big-figure").classList.toggle("old", old);
  say(find("big-read"), `${digits} ${unit}`);
  return name;
}

export function following(rig, format, name) {
  const names = Object.keys(largeFigures(rig, format));
  return names[(names.indexOf(name) + 1) % names.length];
}

export function fit() {
  const node = find("big-digits");
  const span = node.firstElementChild;
  if (!span || !node.clientWidth) return;
  // The room left when the digits take none.
  node.style.height = "0";
  const free =
    node.parentElement.clientHeight - find("big-label").offsetHeight - find("big-sub").offsetHeight;
  const high = fitDigits(span, node.clientWidth, Math.min(free * 0.85, innerWidth * 0.42), LEAST_HIGH_PX);
  // The line is as high as its digits are, so that what is pressed together takes no empty room.
  node.style.height = `${Math.ceil(high * 1.12)}px`;
}

export function showBig(shown) {
  show(find("big"), shown);
  document.body.dataset.view = shown ? "big" : "whole";
}
