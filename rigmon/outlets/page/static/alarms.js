// Alarms: which one is to be heard, and what can be answered.

import { el, find, say, show, sign, whenChanged } from "./dom.js";
import { clock } from "./units.js";
import { t } from "./words.js";

const URGENCY = { high: 3, medium: 2, low: 1 };
export const SHELVE_MIN = 15;

export const urgency = (priority) => URGENCY[priority] ?? 0;

// An alarm that is over but that nobody has answered is still shown, and sounds no more than the
// bell in a terminal does: what counts is that it has not been heard yet.
export const unheard = (alarm) => alarm.state === "unacknowledged";

/** The most urgent alarm of a picture that nobody has answered yet. */
export function loudest(picture) {
  let found = null;
  for (const alarm of picture?.alarms ?? []) {
    if (unheard(alarm) && urgency(alarm.priority) > urgency(found?.priority)) found = alarm;
  }
  return found;
}

export function priorityText(priority) {
  if (priority === "high") return t("high");
  return priority === "medium" ? t("medium") : t("low");
}

/** The alarms that stand, each with what to do, why, since when, and its answers. */
export function renderAlarms(picture, rights, send) {
  const box = find("alarms");
  // The loudest one is the page's own verb already, with its answers below.
  const first = loudest(picture);
  const alarms = (picture?.alarms ?? []).filter((alarm) => alarm !== first);
  show(box, alarms.length > 0);
  whenChanged(box, [alarms, rights, picture?.rig, t("Heard")], () => {
    say(find("alarms-title"), t("Alarms"));
    const rows = alarms.map((alarm) => {
      const answers = el("div", { className: "answers" });
      const brief = !unheard(alarm);
      if (rights === "full" && alarm.state !== "shelved") {
        if (alarm.state !== "acknowledged") {
          answers.append(el("button", { onclick: () => send(`ack ${alarm.code}`) }, t("Heard")));
        }
        if (!alarm.state.startsWith("returned")) {
          const aside = `shelve ${alarm.code} for_min=${SHELVE_MIN}`;
          answers.append(
            el("button", { onclick: () => send(aside) }, t("Aside for {n} min", { n: SHELVE_MIN })),
          );
        }
        for (const button of answers.children) {
          button.type = "button";
          button.setAttribute("aria-label", `${button.textContent}: ${alarm.call}`);
        }
      }
      const facts = `${priorityText(alarm.priority)} · ${alarm.state_text} · ${clock(alarm.at)}`;
      return el(
        "li",
        { className: `alarm ${alarm.priority}${brief ? " brief" : ""}` },
        sign(alarm.priority),
        el(
          "div",
          {},
          el("p", { className: "call" }, alarm.call),
          brief ? "" : el("p", { className: "why" }, alarm.why),
          el("p", { className: "facts" }, facts),
        ),
        answers,
      );
    });
    box.querySelector("ul").replaceChildren(...rows);
  });
}
