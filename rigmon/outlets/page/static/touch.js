// What the maker tells: the marks of this stage, a reading, a note, and taking the last mark back.

import { el, find, say, show, sign, whenChanged } from "./dom.js";
import { loudest, SHELVE_MIN } from "./alarms.js";
import { amountsForm, noteForm, readingForm } from "./forms.js";
import { t } from "./words.js";

const SETTLE_MS = 350;
const ANSWER_MS = 8000;

export class Touch {
  /**
   * @param tell Sends a mark of the shown rig and gives what was answered.
   * @param format Gives the units in which amounts are shown.
   */
  constructor(tell, format) {
    this.tellRig = tell;
    this.format = format;
    this.settling = 0;
    this.busy = false;
    this.byHand = false;
    this.typed = false;
    this.open = null;
    this.more = false;
    this.answerUntil = 0;
    addEventListener("keydown", (event) => {
      if (event.key === "Escape") this.close();
    });
  }

  render(rig, rights, own) {
    const box = find("actions");
    const picture = rig?.picture;
    show(box, rights === "full" && picture !== undefined);
    if (box.hidden || !picture) return;
    this.picture = picture;
    say(find("actions-title"), t("What have you done?"));
    const alarm = own ?? loudest(picture);
    const choices = picture.choices ?? [];
    // Where no probe reads, what is typed is all there is, and goes first.
    this.byHand = this.typed || !picture.probes?.length;
    const named = choices.map(({ word, text }) => [word, text]);
    const facts = [named, alarm?.code ?? alarm?.verb, picture.rig, this.more, this.byHand, t("Note")];
    whenChanged(find("first-row"), facts, () => this.rebuild(choices, alarm, own));
    this.renderUndo(picture);
    if (this.answerUntil && Date.now() > this.answerUntil) this.answer("");
  }

  rebuild(choices, alarm, own) {
    if (find("first-row").firstChild) this.settle();
    const focused = document.activeElement?.dataset?.word;
    const [first, ...others] = choices;
    const row = [];
    if (alarm) {
      const priority = alarm.priority ?? "high";
      const heard = el("button", { type: "button", className: "heard" }, sign(priority), t("Heard"));
      heard.dataset.word = "ack";
      heard.onclick = () => (own ? own.heard() : this.send("ack"));
      row.push(heard);
    }
    if (first) row.push(this.button(first, "strong"));
    const text = this.more ? t("Less") : t("More");
    const more = el("button", { type: "button", id: "more", "aria-controls": "more-rows" }, text);
    more.setAttribute("aria-expanded", String(this.more));
    more.onclick = () => {
      this.more = !this.more;
      find("actions").classList.toggle("open", this.more);
      this.rebuild(choices, alarm, own);
      find("more").focus();
    };
    row.push(more);
    const [send, cancel] = [(mark) => this.send(mark), () => this.close()];
    const reading = el("button", { type: "button" }, t("Reading by hand"));
    reading.dataset.word = "reading";
    reading.onclick = () => this.ask(readingForm(this.format(), send, cancel), "reading");
    if (this.byHand) row.push(reading);
    find("first-row").replaceChildren(...row);
    const note = el("button", { type: "button" }, t("Note"));
    note.dataset.word = "note";
    note.onclick = () => this.ask(noteForm(send, cancel), "note");
    const rows = [...others.map((choice) => this.button(choice, "")), this.byHand ? "" : reading, note];
    if (alarm && !own) {
      const aside = el("button", { type: "button" }, t("Aside for {n} min", { n: SHELVE_MIN }));
      aside.dataset.word = "shelve";
      aside.onclick = () => this.send(`shelve ${alarm.code} for_min=${SHELVE_MIN}`);
      rows.push(aside);
    }
    find("more-rows").replaceChildren(...rows.filter(Boolean));
    if (focused)
      find("actions")
        .querySelector(`[data-word="${CSS.escape(focused)}"]`)
        ?.focus();
  }

  /** A button that has just come to be where another one was is not meant by this tap. */
  settle() {
    const box = find("actions");
    box.classList.add("settling");
    clearTimeout(this.settling);
    this.settling = setTimeout(() => box.classList.remove("settling"), SETTLE_MS);
  }

  button(choice, className) {
    const made = el("button", { type: "button", className }, choice.text);
    made.dataset.word = choice.word;
    made.onclick = () => {
      // The advised grams may have changed since the button was drawn.
      const now = this.picture.choices.find(({ word }) => word === choice.word) ?? choice;
      if (now.fields?.length) {
        const form = amountsForm(
          now,
          this.format(),
          (mark) => this.send(mark),
          () => this.close(),
        );
        this.ask(form, choice.word);
      } else this.send(choice.word);
    };
    return made;
  }

  ask(fields, word) {
    this.open = word;
    this.answer("");
    const form = find("form");
    form.replaceChildren(...fields.nodes);
    form.setAttribute("aria-label", fields.title);
    form.onsubmit = (event) => {
      event.preventDefault();
      fields.done();
    };
    show(form, true);
    find("actions").classList.add("asking");
    form.querySelector("input, button").focus({ preventScroll: false });
  }

  close() {
    if (this.open === null) return;
    const word = this.open;
    this.open = null;
    show(find("form"), false);
    find("form").replaceChildren();
    find("actions").classList.remove("asking");
    find("actions")
      .querySelector(`[data-word="${CSS.escape(word)}"]`)
      ?.focus();
  }

  async send(mark) {
    if (this.busy) return;
    this.busy = true;
    find("actions").setAttribute("aria-busy", "true");
    const { ok, text } = await this.tellRig(mark);
    this.busy = false;
    find("actions").removeAttribute("aria-busy");
    if (ok) this.close();
    if (ok && mark.startsWith("reading ") && this.byHand) this.typed = true;
    if (ok && this.more) {
      this.more = false;
      find("actions").classList.remove("open");
    }
    const unsent = t("Not sent: the program does not answer. Mark it again once it is back.");
    this.answer(text || unsent, !ok);
  }

  answer(text, bad = false) {
    const node = find("answer");
    say(node, text);
    show(node, text !== "");
    node.classList.toggle("refused", bad);
    this.answerUntil = text && !bad ? Date.now() + ANSWER_MS : 0;
  }

  renderUndo(picture) {
    const row = find("undo-row");
    const undo = picture.undo;
    whenChanged(row, [undo?.text, picture.rig, t("Undo")], () => {
      if (!undo) {
        row.replaceChildren();
        return;
      }
      const text = el("span", {}, t("Undo: {mark}", { mark: undo.text }));
      const button = el("button", { type: "button" }, text, el("small"));
      button.dataset.word = "undo";
      button.onclick = () => this.send("undo");
      row.replaceChildren(button);
    });
    const left = row.querySelector("small");
    if (left && undo) say(left, `${Math.max(Math.round(undo.left_s), 0)} s`);
  }
}
