// The page by the bowl: it joins the wire to what is seen, heard and touched.

import { loudest, renderAlarms, urgency } from "./alarms.js";
import { Ends, isOver, renderNews } from "./after.js";
import { fit as fitBig, following, renderBig, showBig } from "./big.js";
import { keepAwake, memory, renderDevice, startTheme, watchSleep } from "./device.js";
import { el, find, say, show, whenChanged } from "./dom.js";
import { ask, Link, tell } from "./link.js";
import { fitVerb, renderFigures, renderNow } from "./now.js";
import { renderElsewhere, renderOverview } from "./overview.js";
import { RigDrawing } from "./rig.js";
import { Rig } from "./rigstate.js";
import { Sounder } from "./sound.js";
import { Touch } from "./touch.js";
import { TrendView } from "./trendview.js";
import { clock, makeFormat } from "./units.js";
import { learn, t } from "./words.js";

const AGAIN_MS = 2000;

const barHeight = () => {
  const bar = find("actions");
  return getComputedStyle(bar).position === "fixed" ? bar.offsetHeight : 0;
};

const ROUNDS = new Set(["beat", "rest"]);
const stageText = ({ stage, stage_text: text, round }) =>
  round && ROUNDS.has(stage) ? `${text} ${round}` : (text ?? "");

class Page {
  constructor() {
    this.rigs = new Map();
    this.chosen = null;
    this.overview = false;
    this.large = memory.get("large") || null;
    this.lostAt = null;
    this.slept = null;
    this.ends = new Ends();
    this.drawn = false;
    this.spoken = {};
    this.units = null;
    this.format = makeFormat({ temperature: "C", mass: "g" }, "en");
  }

  async start() {
    startTheme(() => this.retheme());
    const hello = await this.hello();
    learn(hello.words);
    document.documentElement.lang = hello.language;
    this.rights = hello.rights;
    this.language = hello.language;
    const kept = memory.get("units")?.split(" ");
    this.units = kept?.length === 2 ? { temperature: kept[0], mass: kept[1] } : { ...hello.units };
    this.reformat();
    for (const { id, virtual } of hello.rigs) this.rig(id, virtual);
    this.overview = this.rigs.size > 1;
    this.chosen = hello.rigs[0]?.id ?? null;
    this.sounder = new Sounder(hello.language);
    this.sounder.patterns = hello.sounds ?? {};
    this.touch = new Touch(
      (mark) => tell(this.chosen, mark),
      () => this.format,
    );
    this.drawing = new RigDrawing(find("drawing"), t);
    this.trend = new TrendView(() => this.format);
    this.words();
    this.listen();
    this.link = new Link({
      picture: (picture) => this.see(picture),
      rows: (rig, rows) => rig === this.chosen && this.trend.append(rows),
      reading: (reading) => this.read(reading),
      lost: (since) => this.lose(since),
      back: () => this.back(),
    });
    this.link.start();
    this.askForSound(await keepAwake());
    this.soon();
  }

  /** Asks who is there until somebody answers. */
  async hello() {
    for (;;) {
      const hello = await ask("hello");
      if (hello) return hello;
      say(find("lost"), "No answer from rigmon. Trying again …");
      show(find("lost"), true);
      await new Promise((resolve) => setTimeout(resolve, AGAIN_MS));
    }
  }

  rig(id, virtual = false) {
    if (!this.rigs.has(id)) this.rigs.set(id, new Rig(id, virtual));
    return this.rigs.get(id);
  }

  get shown() {
    return this.rigs.get(this.chosen);
  }

  see(picture) {
    const rig = this.rig(picture.rig, picture.virtual);
    const run = rig.picture?.run;
    rig.see(picture);
    this.chosen ??= picture.rig;
    if (picture.rig === this.chosen && run !== undefined && run !== picture.run) this.trend.load(this.chosen);
    this.ring();
    this.soon();
  }

  /** Shows a reading as soon as it is there: its figure alone. */
  read(reading) {
    const rig = this.rig(reading.rig);
    if (!rig.read(reading) || rig !== this.shown || this.overview || this.reading) return;
    this.reading = true;
    requestAnimationFrame(() => {
      this.reading = false;
      if (this.drawn || this.overview || !this.shown?.picture) return;
      this.drawFigures(this.shown);
      if (this.large === null) this.drawing.read();
    });
  }

  lose(since) {
    this.lostAt = since;
    this.ring();
    this.soon();
  }

  back() {
    this.lostAt = null;
    for (const rig of this.rigs.values()) rig.heard = false;
    this.ends.again();
    if (this.chosen !== null) this.trend.load(this.chosen);
    this.soon();
  }

  /** Draws before the next frame, and once for all that has come until then. */
  soon() {
    if (this.drawn) return;
    this.drawn = true;
    const draw = () => {
      this.drawn = false;
      this.draw();
    };
    // A hidden page has no frames, and its alarm must ring all the same.
    if (document.hidden) setTimeout(draw, 0);
    else requestAnimationFrame(draw);
  }

  /** What the page itself has to say of a rig, while nobody else speaks. */
  own(rig) {
    return this.lostAt === null ? null : rig?.overdue(this.lostAt);
  }

  ring() {
    let top = null;
    for (const rig of this.rigs.values()) {
      const alarm = this.own(rig) ?? loudest(rig.picture);
      if (alarm && urgency(alarm.priority) > urgency(top?.alarm.priority)) top = { rig, alarm };
    }
    this.sounder.ring(top?.alarm.priority ?? null);
    const key = top && `${top.rig.id} ${top.alarm.code} ${top.alarm.at}`;
    if (key !== this.called) {
      this.called = key;
      if (top) {
        const many = this.rigs.size > 1 ? `${top.rig.id}: ` : "";
        const text = `${many}${top.alarm.call ?? top.alarm.verb}. ${top.alarm.why ?? top.alarm.reason}`;
        say(find("called"), text);
        this.sounder.speak(`${many}${top.alarm.call ?? top.alarm.verb}`);
      } else say(find("called"), "");
    }
  }

  draw() {
    const rig = this.shown;
    const picture = rig?.picture;
    const old = this.lostAt !== null;
    const own = this.own(rig);
    const alarm = own ?? loudest(picture);
    const many = this.rigs.size > 1;
    const overview = many && this.overview;
    document.body.dataset.alarm = overview ? "" : (alarm?.priority ?? "");
    document.body.classList.toggle("lost", old);
    document.body.dataset.stage = picture?.stage ?? "";
    document.body.classList.toggle(
      "ahead",
      picture !== undefined && picture.run === null && !isOver(picture),
    );
    document.body.classList.toggle("over", picture !== undefined && isOver(picture));
    show(find("rig"), !overview && picture !== undefined);
    renderOverview(this.rigs.values(), overview, this.format, old, (id) => this.choose(id));
    this.drawHead(rig, overview, many);
    this.drawBands(old, many, overview);
    this.drawDevice();
    if (overview || !picture) {
      this.touch.render(null, this.rights, null);
      return;
    }
    showBig(this.large !== null);
    renderNow(rig, own);
    this.drawFigures(rig);
    if (this.large === null) {
      this.drawing.still(old);
      this.drawing.update(picture, this.format);
      this.trend.update(picture);
    }
    renderAlarms(picture, this.rights, (mark) => this.touch.send(mark));
    this.touch.render(rig, this.rights, own && { ...own, heard: () => this.hush(rig) });
    // The bar at the foot of a phone's page takes room that the large figure must not have.
    document.body.style.setProperty("--bar", `${barHeight()}px`);
    renderNews(picture);
    this.ends.render(picture, this.format);
    document.title = `${own?.verb ?? picture.verb} · ${picture.rig}`;
    const aloud = `${own?.verb ?? picture.verb}. ${picture.next?.text ?? picture.reason}`;
    if (this.verb !== `${picture.rig} ${picture.verb}` && !alarm) {
      this.verb = `${picture.rig} ${picture.verb}`;
      say(find("spoken"), aloud);
    }
  }

  drawFigures(rig) {
    const old = this.lostAt !== null;
    renderFigures(rig, this.format, old, (name) => this.enlarge(name));
    if (this.large !== null) this.large = renderBig(rig, this.format, this.large, old);
  }

  drawHead(rig, overview, many) {
    const button = find("rigs");
    show(button, many);
    say(button, overview ? t("One rig") : t("All rigs"));
    const picture = rig?.picture;
    const place =
      overview || !picture
        ? ""
        : [
            picture.rig,
            picture.virtual ? t("virtual rig") : "",
            stageText(picture),
            picture.run ? clock(rig.runTime()) : "",
          ]
            .filter(Boolean)
            .map((part) => part.replace(/ /g, "\u00a0"))
            .join(" · ");
    say(find("where"), place);
  }

  drawBands(old, many, overview) {
    const lost = find("lost");
    if (old) {
      const time = clock((Date.now() - this.lostAt) / 1000);
      // Read aloud once; the seconds after it are only for the eye.
      whenChanged(lost, [this.lostAt, t("now")], () => {
        lost.replaceChildren(
          el("span", {}, t("No word from the program. Figures are old:")),
          " ",
          el("b", { "aria-hidden": "true" }),
        );
      });
      say(lost.lastChild, time);
    }
    show(lost, old);
    show(find("slept"), this.slept !== null);
    renderElsewhere(many && !overview ? this.rigs.values() : [], this.chosen, (id) => this.choose(id));
  }

  drawDevice() {
    const sounds = this.sounder.patterns.high !== undefined;
    renderDevice({ units: this.units, soundOn: this.sounder.wanted, sounds }, (name) => this.act(name));
  }

  choose(id) {
    this.overview = false;
    if (id !== this.chosen) {
      this.chosen = id;
      this.touch.close();
      this.touch.answer("");
      this.trend.load(id);
    }
    this.soon();
    find("page").focus({ preventScroll: true });
    scrollTo(0, 0);
  }

  enlarge(name) {
    this.large = name;
    memory.set("large", name ?? "");
    showBig(name !== null);
    this.soon();
    requestAnimationFrame(() => {
      fitVerb();
      fitBig();
      scrollTo(0, 0);
      (name === null ? find("pair").firstChild : find("big-figure"))?.focus({
        preventScroll: true,
      });
    });
  }

  hush(rig) {
    rig.heard = true;
    this.ring();
    this.soon();
  }

  async act(name) {
    if (name === "C" || name === "F") this.units.temperature = name;
    if (name === "g" || name === "oz") this.units.mass = name;
    if (["C", "F", "g", "oz"].includes(name)) {
      memory.set("units", `${this.units.temperature} ${this.units.mass}`);
      this.reformat();
      this.trend.reformat();
    }
    if (name === "sound" && this.sounder.wanted) this.sounder.disable();
    else if (name === "sound" || name === "test") {
      await this.sounder.enable();
      this.sounder.test();
    }
    show(find("ask"), false);
    this.ring();
    this.soon();
  }

  reformat() {
    Object.assign(this.format, makeFormat(this.units, this.language));
  }

  retheme() {
    this.drawing?.setTheme();
    this.trend?.setTheme();
    if (this.units) this.soon();
  }

  /** No browser sounds without a tap: so the page asks for one, as soon as it is opened. */
  askForSound(awake) {
    const box = find("ask");
    show(box, this.sounder.patterns.high !== undefined);
    const screen = awake
      ? ""
      : ` ${t("Switch off this screen's time-out in its settings: the page cannot.")}`;
    box.firstElementChild.textContent = t("Shall this screen sound alarms?") + screen;
    find("sound-on").onclick = () => this.act("sound");
    find("sound-off").onclick = () => show(box, false);
    find("sound").onclick = () => this.act("sound");
    addEventListener("pointerdown", () => this.sounder.wake());
  }

  words() {
    say(find("sound-on"), t("Sound on"));
    say(find("sound-off"), t("Stay silent"));
    say(find("figures-title"), t("Figures"));
    say(find("big-back"), t("Whole page"));
    say(find("hint"), t("Show it large"));
    say(find("hint-next"), t("Show the next figure"));
    say(find("slept").lastElementChild, t("Seen"));
  }

  listen() {
    find("next").onclick = () => this.enlarge("next");
    find("big-figure").onclick = () => this.enlarge(following(this.shown, this.format, this.large));
    find("big-back").onclick = () => this.enlarge(null);
    find("rigs").onclick = () => {
      this.overview = !this.overview;
      this.soon();
    };
    find("slept").lastElementChild.onclick = () => {
      this.slept = null;
      this.soon();
    };
    addEventListener("keydown", (event) => {
      if (event.key === "Escape" && this.large !== null && this.touch.open === null) this.enlarge(null);
    });
    addEventListener("resize", () => {
      fitVerb();
      if (this.large !== null) fitBig();
      this.soon();
    });
    watchSleep(
      () => {
        if (this.lostAt !== null) this.ring();
        this.soon();
      },
      (ms) => {
        this.slept = ms;
        say(find("slept").firstElementChild, t("This screen slept for {time}.", { time: clock(ms / 1000) }));
        this.sounder.wake();
      },
    );
  }
}

new Page().start();
