// What is behind: what happened lately, and of a run that has ended its story and its report.

import { el, find, say, show, whenChanged } from "./dom.js";
import { isAhead, renderPlan } from "./before.js";
import { address, ask, exists } from "./link.js";
import { clock } from "./units.js";
import { t } from "./words.js";

/** Whether the newest run has ended; its picture stays until another one begins. */
export const isOver = (picture) =>
  picture.stage === "done" || (picture.run === null && picture.summary !== null);

/** Shows the figures `story`; `report` is the run whose report there is, or null. */
export function renderStory(story, report) {
  const box = find("after");
  show(box, story !== null && story.length > 0);
  if (box.hidden) return;
  whenChanged(box, [story, report, t("The run")], () => {
    say(find("after-title"), t("The run"));
    const rows = story.map(({ text, value }) => el("div", {}, el("dt", {}, text), el("dd", {}, value)));
    const link =
      report === null
        ? ""
        : // Beside the page, which a demo does not outlive.
          el(
            "a",
            { href: address(`runs/${encodeURIComponent(report)}/report`), target: "_blank", rel: "noopener" },
            t("Report"),
          );
    box.lastElementChild.replaceChildren(...[el("dl", {}, ...rows), link].filter((node) => node !== ""));
  });
}

export function renderNews(picture) {
  const box = find("news");
  const news = picture.news ?? [];
  show(box, news.length > 0);
  whenChanged(box, [news, t("Lately")], () => {
    say(find("news-title"), t("Lately"));
    const rows = [...news]
      .reverse()
      .map(({ at, kind, text }) => el("li", { className: kind }, el("time", {}, clock(at)), " ", text));
    box.lastElementChild.replaceChildren(...rows);
  });
}

/** The plan of what lies ahead and the story of what is over, each fetched once for a run's stage. */
export class Ends {
  constructor() {
    this.again();
  }

  /** Fetches anew: the program that answers now may be another one. */
  again() {
    this.key = "";
    this.plan = this.story = this.report = null;
  }

  render(picture, format) {
    const [ahead, over] = [isAhead(picture), isOver(picture)];
    const key = `${picture.rig} ${picture.run ?? picture.summary?.run} ${ahead} ${over}`;
    if (key !== this.key) {
      this.again();
      this.key = key;
      this.fetch(key, picture, ahead, over);
    }
    renderPlan(this.plan, ahead, format);
    renderStory(over ? this.story : null, this.report);
  }

  async fetch(key, { rig, run: goes, summary }, ahead, over) {
    const run = goes ?? summary?.run;
    const path = `rigs/${encodeURIComponent(rig)}/`;
    const plan = ahead ? await ask(`${path}plan`, true) : null;
    const story = over ? await ask(`${path}story`) : null;
    const report = over && run && (await exists(`runs/${encodeURIComponent(run)}/report`));
    if (key === this.key) Object.assign(this, { plan, story, report: report ? run : null });
  }
}
