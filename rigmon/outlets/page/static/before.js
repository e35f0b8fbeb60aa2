// The batch ahead: what to weigh, what to have ready, and when things will happen.

import { el, find, say, show, whenChanged } from "./dom.js";
import { minutes, UNKNOWN } from "./units.js";
import { t } from "./words.js";

const AHEAD = new Set([null, "base", "ready"]);

/** Whether this batch is still to come, so that its plan is worth a look. */
export const isAhead = (picture) =>
  AHEAD.has(picture.run ? picture.stage : null) && !(picture.run === null && picture.summary !== null);

export function renderPlan(plan, shown, format) {
  const box = find("before");
  show(box, shown && plan !== null);
  if (box.hidden) return;
  whenChanged(box, [plan, format.unit, format.massUnit, t("Plan")], () => {
    say(find("before-title"), plan.name ? `${t("Plan")}: ${plan.name}` : t("Plan"));
    box.lastElementChild.replaceChildren(...(plan.text ? [el("p", {}, plan.text)] : parts(plan, format)));
  });
}

function parts(plan, format) {
  const weigh = [
    [t("mix"), `${format.mass(plan.mix_g)}, ${format.temperature(plan.mix_c, 0)}`],
    [t("ice"), amount(plan, plan.ice_g, plan.ice_kind, format)],
    [t("salt"), amount(plan, plan.salt_g, plan.salt_kind, format)],
  ];
  const keep = plan.recharge ?? {};
  if (keep.ice_g > 0) {
    const salt = keep.salt_g > 0 ? ` + ${format.mass(keep.salt_g)} ${t("salt")}` : "";
    weigh.push([t("keep for a recharge"), `${format.mass(keep.ice_g)} ${t("ice")}${salt}`]);
  }
  const times = [
    [t("bath ready, after the ice"), range(plan.ready_after_ice_s, format)],
    [t("stiff, after the pour"), range(plan.plateau_s, format)],
    [t("bath good for, after the pour"), range(plan.bath_limit_s, format)],
  ].filter(([, text]) => text !== UNKNOWN);
  const ready = [
    t("a scale, and a thermometer if no probe sits in the mix"),
    t("dry, insulated gloves"),
    t("a spatula for the wall"),
    t("room in the freezer, and a lid"),
    t("cold tubs"),
  ];
  const listed = (texts) => el("ul", {}, ...texts.map((text) => el("li", {}, text)));
  const pairs = (rows) =>
    el("dl", {}, ...rows.map(([name, text]) => el("div", {}, el("dt", {}, name), el("dd", {}, text))));
  const made = [
    el("h3", {}, t("Weigh out")),
    pairs(weigh),
    el("h3", {}, t("Have ready")),
    listed(ready),
    el("h3", {}, t("What to expect")),
    pairs(times),
  ];
  if (plan.fits && !plan.fits.ok) {
    made.unshift(el("p", { className: "refused" }, t("It does not all fit into the bowls.")));
  }
  const care = [...(plan.watch ?? []), ...(plan.cautions ?? [])].map((one) => `${one.text} (${one.basis})`);
  if (care.length) {
    made.push(
      el(
        "details",
        {},
        el("summary", {}, t("Take care")),
        listed(care),
        el("p", {}, t("Your local rules come first.")),
      ),
    );
  }
  return made;
}

function amount(plan, g, kind, format) {
  const cups = (plan.measures ?? []).find((one) => one.planned && one.material === kind)?.cups;
  const text = format.mass(g);
  if (!cups || format.massUnit === "g") return text;
  return `${text} (${t("{n} cups", { n: format.number(cups.usual, cups.usual < 10 ? 1 : 0) })})`;
}

function range(quantiles, format) {
  const { p10, p90 } = quantiles ?? {};
  return p10 !== null && p10 !== undefined && (p90 === null || p90 === undefined)
    ? t("over {n} min", { n: format.number(p10 / 60) })
    : minutes(p10, p90, format);
}
