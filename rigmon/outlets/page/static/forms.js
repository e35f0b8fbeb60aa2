// Forms for wet fingers: amounts changed by large steps, a figure that can be below zero, a note.

import { el, say } from "./dom.js";
import { celsius, fromGrams, toGrams, typed } from "./units.js";
import { t } from "./words.js";

const OUNCE_STEP = 1;
const NOTE_LENGTH = 200;

let count = 0;
const fresh = () => `field-${(count += 1)}`;

/** Words in quotation marks, as a mark is written (those of a POSIX shell). */
export const quoted = (text) => `'${text.replaceAll("'", "'\"'\"'")}'`;

function ending(done, cancel) {
  const back = el("button", { type: "button", onclick: cancel }, t("Cancel"));
  return el(
    "div",
    { className: "ending" },
    el("button", { type: "submit", className: "strong" }, done),
    back,
  );
}

/** What went in, filled in with what was advised or is usual. */
export function amountsForm(choice, format, send, cancel) {
  const complaint = el("p", { className: "refused", role: "alert" });
  const asked = choice.fields.map((field) => amount(field, format));
  const done = () => {
    const parts = [choice.word];
    for (const one of asked) {
      const { value, wrong } = one.read();
      if (wrong) {
        say(complaint, wrong);
        one.input.focus();
        return;
      }
      if (value !== null) parts.push(`${one.name}=${value}`);
    }
    send(parts.join(" "));
  };
  return {
    title: choice.text,
    nodes: [el("h3", {}, choice.text), ...asked.map((one) => one.node), complaint, ending(t("Done"), cancel)],
    done,
  };
}

function amount(field, format) {
  const grams = field.unit === "g";
  const unit = grams ? format.massUnit : field.unit;
  const ounces = unit === "oz";
  const shown = (x) => (grams ? fromGrams(x, format.massUnit) : x);
  const step = ounces ? OUNCE_STEP : field.step;
  const id = fresh();
  const start = field.value === null || field.value === undefined ? "" : format.number(shown(field.value), 0);
  const input = el("input", {
    id,
    type: "text",
    inputMode: "decimal",
    autocomplete: "off",
    value: start,
  });
  const change = (direction) => {
    const now = typed(input.value) ?? 0;
    const next =
      (direction > 0 ? Math.floor(now / step + 1e-9) + 1 : Math.ceil(now / step - 1e-9) - 1) * step;
    input.value = format.number(Math.min(Math.max(next, shown(field.min)), shown(field.max)));
  };
  const stepper = (sign, direction, text) => {
    const made = el("button", { type: "button", className: "step", onclick: () => change(direction) }, sign);
    made.setAttribute("aria-label", text);
    return made;
  };
  const less = stepper("−", -1, t("{what}: less", { what: field.text }));
  const more = stepper("+", 1, t("{what}: more", { what: field.text }));
  const label = unit ? `${field.text}, ${unit}` : field.text;
  const node = el("div", { className: "amount" }, el("label", { htmlFor: id }, label), less, input, more);
  const read = () => {
    if (input.value.trim() === "") return { value: null };
    const number = typed(input.value);
    const least = shown(field.min);
    const most = shown(field.max);
    if (number === null || number < least || number > most) {
      const [low, high] = [format.number(least), format.number(most)];
      return {
        wrong: t("{what}: a number from {low} to {high} is needed.", {
          what: field.text,
          low,
          high,
        }),
      };
    }
    // What was advised goes back as it came, not rounded by way of another unit.
    if (input.value === start) return { value: field.value };
    return { value: grams ? Math.round(10 * toGrams(number, format.massUnit)) / 10 : number };
  };
  return { name: field.name, node, input, read };
}

/** A temperature read by hand: the sign has a key of its own, since many phones have none for it. */
export function readingForm(format, send, cancel) {
  const complaint = el("p", { className: "refused", role: "alert" });
  const places = [
    ["bath_c", t("bath")],
    ["mix_c", t("mix")],
    ["core_c", t("core")],
    ["freezer_c", t("freezer")],
  ];
  const group = fresh();
  const radios = places.map(([name, text], index) => {
    const id = fresh();
    const radio = el("input", {
      type: "radio",
      name: group,
      value: name,
      id,
      checked: index === 0,
    });
    return el("span", {}, radio, el("label", { htmlFor: id }, text));
  });
  const id = fresh();
  const input = el("input", { id, type: "text", inputMode: "decimal", autocomplete: "off" });
  const minus = el("button", { type: "button", className: "step" }, "−");
  minus.setAttribute("aria-label", t("below zero"));
  const below = (is) => minus.setAttribute("aria-pressed", String(is));
  below(format.unit === "C");
  minus.onclick = () => below(minus.getAttribute("aria-pressed") !== "true");
  input.oninput = () => {
    if (/^\s*[-\u2212–]/.test(input.value)) {
      input.value = input.value.replace(/^\s*[-\u2212–]/, "");
      below(true);
    }
  };
  const done = () => {
    const number = typed(input.value);
    if (number === null) {
      say(
        complaint,
        t("A temperature is needed, such as {example}.", {
          example: format.number(14.5, 1),
        }),
      );
      input.focus();
      return;
    }
    const signed = minus.getAttribute("aria-pressed") === "true" ? -number : number;
    const place = radios.map((one) => one.firstChild).find((radio) => radio.checked).value;
    send(`reading ${place}=${Math.round(100 * celsius(signed, format.unit)) / 100}`);
  };
  const title = t("Reading by hand");
  const choice = el("fieldset", { className: "places" }, el("legend", {}, t("Where?")), ...radios);
  const figure = el(
    "div",
    { className: "amount" },
    el("label", { htmlFor: id }, `°${format.unit}`),
    minus,
    input,
  );
  return {
    title,
    nodes: [el("h3", {}, title), choice, figure, complaint, ending(t("Done"), cancel)],
    done,
  };
}

export function noteForm(send, cancel) {
  const id = fresh();
  const input = el("input", { id, type: "text", maxLength: NOTE_LENGTH, autocomplete: "off" });
  const title = t("Note");
  const done = () => {
    const words = input.value.replace(/\s+/g, " ").trim();
    if (words) send(`note note=${quoted(words)}`);
    else cancel();
  };
  const row = el(
    "div",
    { className: "words" },
    el("label", { htmlFor: id }, t("What is worth remembering?")),
    input,
  );
  return { title, nodes: [el("h3", {}, title), row, ending(t("Done"), cancel)], done };
}
