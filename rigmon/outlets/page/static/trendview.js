// The trend with its choice of span, kept whole over a broken wire.

import { el, find, say } from "./dom.js";
import { ask } from "./link.js";
import { Trend } from "./trend.js";
import { t } from "./words.js";

export class TrendView {
  constructor(format) {
    this.format = format;
    this.host = find("trend-host");
    this.trend = new Trend(this.host, t, format());
    this.rig = null;
    this.waiting = null;
    this.last = -Infinity;
    this.buttons();
  }

  buttons() {
    say(find("trend-title"), t("Bath and mix"));
    const spans = [
      ["10min", t("10 min")],
      ["round", t("Round")],
      ["run", t("Run")],
    ];
    const made = spans.map(([span, text]) => {
      const button = el("button", { type: "button", onclick: () => this.span(span) }, text);
      button.dataset.span = span;
      return button;
    });
    find("spans").replaceChildren(...made);
    this.span("round");
  }

  span(span) {
    for (const button of find("spans").children) {
      button.setAttribute("aria-pressed", String(button.dataset.span === span));
    }
    this.trend.span(span);
  }

  /** Fetches the run so far; rows that come meanwhile wait, so that none is lost or doubled. */
  async load(rig) {
    this.rig = rig;
    const rows = [];
    this.waiting = rows;
    const kept = await ask(`rigs/${encodeURIComponent(rig)}/trend`);
    if (this.waiting !== rows) return;
    this.waiting = null;
    if (kept) {
      this.trend.load(kept.columns, kept.marks);
      this.last = kept.columns.at[kept.columns.at.length - 1] ?? -Infinity;
    }
    this.append(rows);
  }

  append(rows) {
    if (this.waiting) {
      this.waiting.push(...rows);
      return;
    }
    const fresh = rows.filter(({ at }) => at > this.last);
    if (!fresh.length) return;
    this.last = fresh[fresh.length - 1].at;
    this.trend.append(fresh);
  }

  update(picture) {
    this.trend.update(picture, this.format());
  }

  reformat() {
    this.trend.setTheme?.();
  }

  setTheme() {
    this.trend.setTheme?.();
  }
}
