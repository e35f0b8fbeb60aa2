// What to do now, for how long, and the few figures behind it.

import { bound, el, find, say, show, sign, whenChanged } from "./dom.js";
import { fitText } from "./fit.js";
import { clock } from "./units.js";
import { priorityText } from "./alarms.js";
import { shownC } from "./rigstate.js";
import { t } from "./words.js";

const TO_GO = /(\d[\d.,]*(?:\s?[–-]\s?\d[\d.,]*)?)\s*(min|h|s)\b/;

/** A text parted at its time to go: "stop in", "6–12", "min", "". */
export function parted(text) {
  const found = TO_GO.exec(text);
  if (!found) return { before: text, digits: "", unit: "", after: "" };
  return {
    before: text.slice(0, found.index).trim(),
    digits: found[1],
    unit: found[2],
    after: text.slice(found.index + found[0].length).trim(),
  };
}

/** Verb, time to go, and reason; `own` is what the page itself has to say while it is cut off. */
export function renderNow(rig, own) {
  const picture = rig?.picture;
  const verb = bound(own?.verb ?? picture?.verb ?? "");
  const priority = own?.priority ?? picture?.priority ?? null;
  const signal = find("signal");
  show(signal, priority !== null);
  whenChanged(signal, [priority, t("high")], () => {
    if (priority)
      signal.replaceChildren(sign(priority), t("Alarm, {priority}", { priority: priorityText(priority) }));
  });
  const title = find("verb");
  if (title.textContent !== verb) {
    title.textContent = verb;
    fitVerb();
  }
  const next = own ? null : (picture?.next ?? null);
  const button = find("next");
  show(button, next !== null);
  if (next) {
    const text = find("next-text");
    whenChanged(text, next.text, () => {
      const { before, digits, unit, after } = parted(next.text);
      const parts = [
        before,
        " ",
        digits ? el("b", {}, digits) : "",
        digits ? ` ${unit}` : "",
        after ? ` ${after}` : "",
      ];
      text.replaceChildren(...parts.filter((part) => part !== ""));
    });
    ribbon(find("ribbon"), next, rig.runTime());
  }
  say(find("reason"), bound(own?.reason ?? reasonOf(picture)));
}

/** Why, without the range that stands above it already; instead of that alone, how fast it stiffens. */
function reasonOf(picture) {
  const { reason = "", why, next, priority } = picture ?? {};
  const { digits } = parted(next?.text ?? "");
  if (priority || !digits || !reason.includes(digits)) return reason;
  const cut = reason.lastIndexOf(": ");
  return cut > 0 ? reason.slice(0, cut) : (why ?? "");
}

/** The verb fills the width that it has, down to a size that is still read from two metres. */
export function fitVerb() {
  const title = find("verb");
  const box = title.parentElement;
  const width = title.clientWidth || box.clientWidth;
  if (!width) return;
  const rem = parseFloat(getComputedStyle(document.documentElement).fontSize);
  const big = document.body.dataset.view === "big";
  const short = innerHeight < 34 * rem;
  const share = big || short ? 0.2 : innerWidth > innerHeight ? 0.3 : 0.24;
  const tall = Math.max(innerHeight * share, short ? 0 : 110);
  fitText(title, width, tall, 1.5 * rem, Math.min(8 * rem, width / 3));
}

/** From now to the right the minutes to come; where it will happen is filled, and thins as it is surer. */
function ribbon(node, next, now) {
  const { p10, p50, p90 } = next;
  show(node, known(p10));
  if (node.hidden) return;
  const end = Math.max((p90 ?? p10 * 1.6) - now, 0);
  const reach = [600, 1800, 3600, 7200, 14400, 43200, 86400].find((s) => s >= end * 1.05) ?? end * 1.05;
  if (!node.firstChild) {
    node.append(el("i", { className: "span" }), el("i", { className: "likely" }));
    node.append(el("small", { className: "from" }), el("small", { className: "to" }));
  }
  const share = (s) => `${100 * Math.min(Math.max((s - now) / reach, 0), 1)}%`;
  const [span, likely, from, to] = node.children;
  span.style.left = share(p10);
  span.style.right = !known(p90) ? "0%" : `calc(100% - ${share(p90)})`;
  span.classList.toggle("open", !known(p90));
  show(likely, known(p50));
  if (!likely.hidden) likely.style.left = share(p50);
  say(from, t("now"));
  say(to, reach >= 7200 ? `${reach / 3600} h` : `${reach / 60} min`);
}

/** Figures that can be shown alone, as large as the screen allows. */
export function largeFigures(rig, format) {
  const picture = rig.picture;
  const made = {};
  if (picture.next) {
    const { before, digits, unit, after } = parted(picture.next.text);
    if (digits) made.next = { label: before, digits, unit, sub: after };
  }
  const mix = picture.mix ?? {};
  for (const { name, c, sub } of temperatures(picture, format)) {
    made[name] = { label: t(name), digits: format.degrees(c), unit: `°${format.unit}`, sub };
  }
  made.frozen = {
    label: t("frozen"),
    digits: format.number(mix.frozen_pct),
    unit: "%",
    sub: frozenText(mix, format),
  };
  return made;
}

/** The two that matter: bath and mix, and once the mix is in tubs their freezer and their core. */
function temperatures(picture, format) {
  const [bath, mix] = [picture.bath ?? {}, picture.mix ?? {}];
  if (picture.stage === "pack" || picture.stage === "harden") {
    const at = (place) => picture.probes?.find((probe) => probe.place === place)?.value_c;
    return [
      { name: "freezer", c: at("freezer"), sub: "" },
      { name: "core", c: at("core"), sub: frozenShort(mix, format) },
    ];
  }
  // Before the ice has done its work a bath is warm, and there is nothing wrong with that.
  const works = picture.stage === "beat" || picture.stage === "rest";
  const wrong = works && known(bath.c) && known(bath.limit_c) && bath.c > bath.limit_c;
  return [
    { name: "bath", c: shownC(picture, "bath"), sub: wrong ? `▲ ${t("above its limit")}` : limitText(bath, format), wrong },
    { name: "mix", c: shownC(picture, "mix"), sub: frozenShort(mix, format) || freezingText(mix, format) },
  ];
}

const known = (x) => x !== null && x !== undefined;

const limitText = (bath, format) =>
  known(bath.limit_c) ? t("limit {c}", { c: format.temperature(bath.limit_c) }) : "";

const freezingText = (mix, format) =>
  known(mix.freezing_c) ? t("freezes from {c}", { c: format.temperature(mix.freezing_c) }) : "";

function frozenText(mix, format) {
  if (!known(mix.frozen_pct)) return "";
  const figure = `${format.number(mix.frozen_pct)} ± ${format.number(2 * (mix.frozen_sd ?? 0))}`;
  return t("{figure} % of its water", { figure });
}

function frozenShort(mix, format) {
  if (!known(mix.frozen_pct)) return "";
  return `${t("frozen")} ${format.number(mix.frozen_pct)} ± ${format.number(2 * (mix.frozen_sd ?? 0))} %`;
}

/** Two temperatures, each a button that shows it alone; below them the probes that are not well. */
export function renderFigures(rig, format, old, enlarge) {
  const picture = rig.picture;
  const bad = new Map();
  for (const probe of picture.probes ?? []) {
    if (probe.quality !== "good") bad.set(probe.place, probe);
  }
  const pair = find("pair");
  whenChanged(pair, [], () => {
    const figure = (colour) => {
      const button = el(
        "button",
        { type: "button", className: `bare figure ${colour}`, "aria-describedby": "hint" },
        el("span", { className: "label" }),
        el("span", { className: "digits" }, el("span"), el("small")),
        el("span", { className: "sub" }),
      );
      button.onclick = () => enlarge(button.dataset.name);
      return button;
    };
    pair.replaceChildren(figure("bath"), figure("mix"));
  });
  temperatures(picture, format).forEach(({ name, c, sub, wrong = false }, index) => {
    const button = pair.children[index];
    const [label, digits, below] = button.children;
    const probe = bad.get(name);
    const read = picture.probes?.some(({ place, quality }) => place === name && quality === "good");
    const guessed = probe !== undefined && !read && known(c);
    button.dataset.name = name;
    say(label, guessed ? `${t(name)}, ${t("estimated")}` : t(name));
    say(digits.firstChild, format.degrees(c));
    say(digits.lastChild, known(c) ? ` °${format.unit}` : "");
    say(below, probe ? `✕ ${probe.quality_text}` : sub);
    button.classList.toggle("bad", probe !== undefined);
    button.classList.toggle("wrong", wrong);
    button.classList.toggle("old", old);
  });

  const probes = find("probes");
  const lines = [...bad.values()].map((probe) => [
    probe.name,
    probe.quality_text,
    probe.why,
    Math.round(probe.age_s ?? -1),
  ]);
  whenChanged(probes, lines, () => {
    probes.replaceChildren(
      ...lines.map(([name, quality, why, age]) =>
        el(
          "li",
          {},
          sign("fault"),
          el("b", {}, `${t("{name} probe", { name })}: ${quality}`),
          age >= 10 ? ` · ${t("{time} old", { time: clock(age) })}` : "",
          why ? el("span", {}, why) : "",
        ),
      ),
    );
  });
}
