// All rigs at a glance, the one that needs a hand first.

import { el, find, say, show, sign, whenChanged } from "./dom.js";
import { loudest, urgency } from "./alarms.js";
import { shownC } from "./rigstate.js";
import { t } from "./words.js";

/** Rigs in the order in which they want somebody: alarms, then bad probes, then what is due next. */
export function worstFirst(rigs) {
  const rank = (rig) => {
    const picture = rig.picture;
    const alarm = urgency(loudest(picture)?.priority) * 10;
    const standing = Math.max(0, ...(picture?.alarms ?? []).map((one) => urgency(one.priority)));
    const bad = (picture?.probes ?? []).some((probe) => probe.quality !== "good") ? 0.5 : 0;
    return alarm + standing + bad;
  };
  const due = (rig) => (rig.picture?.next?.p50 ?? Infinity) - (rig.picture?.at ?? 0);
  return [...rigs].sort((a, b) => rank(b) - rank(a) || compare(due(a), due(b)) || (a.id < b.id ? -1 : 1));
}

const compare = (a, b) => (a === b ? 0 : a < b ? -1 : 1);

export function renderOverview(rigs, shown, format, old, choose) {
  const box = find("overview");
  show(box, shown);
  if (!shown) return;
  box.classList.toggle("old", old);
  if (!box.firstChild) box.append(el("h1", { className: "unseen" }), el("ul"));
  const [title, list] = box.children;
  say(title, t("All rigs"));
  const sorted = worstFirst(rigs);
  // A button stays the same one from second to second, so that no tap falls between two of them.
  whenChanged(
    list,
    sorted.map(({ id }) => id),
    () => {
      const focused = document.activeElement?.dataset?.rig;
      const had = new Map([...list.children].map((item) => [item.firstChild.dataset.rig, item]));
      list.replaceChildren(...sorted.map(({ id }) => had.get(id) ?? row(id, choose)));
      if (focused) list.querySelector(`[data-rig="${CSS.escape(focused)}"]`)?.focus();
    },
  );
  sorted.forEach((rig, index) => fill(list.children[index].firstChild, rig, format));
}

function row(id, choose) {
  const parts = ["sign-place", "name", "verb", "soon", "both", "fault"];
  const spans = parts.map((className) => el("span", { className }));
  const button = el("button", { type: "button", onclick: () => choose(id) }, ...spans);
  button.dataset.rig = id;
  return el("li", {}, button);
}

function fill(button, { id, picture }, format) {
  const priority = loudest(picture)?.priority ?? null;
  const [place, name, verb, soon, both, fault] = button.children;
  button.className = `rig ${priority ?? ""}`;
  whenChanged(place, priority, () => place.replaceChildren(...(priority ? [sign(priority)] : [])));
  say(name, [id, picture?.stage_text, picture?.virtual ? t("virtual rig") : ""].filter(Boolean).join(" · "));
  say(verb, picture?.verb ?? t("Waiting"));
  say(soon, picture?.next?.text ?? picture?.reason ?? "");
  const [bath, mix] = ["bath", "mix"].map((place) => format.temperature(shownC(picture, place)));
  say(both, `${t("bath")} ${bath} · ${t("mix")} ${mix}`);
  const bad = (picture?.probes ?? []).filter((one) => one.quality !== "good");
  say(fault, bad.map((one) => `${one.name}: ${one.quality_text}`).join(" · "));
}

/** What sounds on other rigs than the one that is shown, each a tap away. */
export function renderElsewhere(rigs, chosen, choose) {
  const box = find("elsewhere");
  const others = worstFirst(rigs).filter(({ id, picture }) => id !== chosen && loudest(picture));
  const facts = others.map(({ id, picture }) => [id, loudest(picture).call, loudest(picture).priority]);
  whenChanged(box, facts, () => {
    const buttons = facts.map(([id, call, priority]) =>
      el(
        "button",
        { type: "button", className: `other ${priority}`, onclick: () => choose(id) },
        `${id}: ${call}`,
      ),
    );
    box.replaceChildren(...buttons);
  });
}
