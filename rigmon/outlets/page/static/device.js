// What belongs to this screen and not to the rig: light or dark, sound, units, and whether it is awake.

import { el, find, say, whenChanged } from "./dom.js";
import { t } from "./words.js";

/** What this device remembers; a browser that keeps nothing forgets it with the page. */
export const memory = {
  get(key) {
    try {
      return localStorage.getItem(`rigmon.${key}`);
    } catch {
      return null;
    }
  },
  set(key, value) {
    try {
      localStorage.setItem(`rigmon.${key}`, value);
    } catch {
      // Private windows may refuse.
    }
  },
};

const dark = matchMedia("(prefers-color-scheme: dark)");

/** Light or dark as the device has it, until somebody taps for the other. */
export function startTheme(changed) {
  const apply = () => {
    document.documentElement.dataset.theme = memory.get("theme") ?? (dark.matches ? "dark" : "light");
    changed();
  };
  dark.addEventListener?.("change", apply);
  find("theme").onclick = () => {
    const other = document.documentElement.dataset.theme === "dark" ? "light" : "dark";
    memory.set("theme", other);
    apply();
  };
  apply();
}

export function renderDevice(state, act) {
  const { units, soundOn, sounds } = state;
  say(find("device-title"), t("This screen"));
  const theme = find("theme");
  theme.setAttribute(
    "aria-label",
    document.documentElement.dataset.theme === "dark" ? t("Light") : t("Dark"),
  );
  const sound = find("sound");
  sound.hidden = !sounds;
  sound.setAttribute("aria-label", t("Sound"));
  sound.setAttribute("aria-pressed", String(soundOn));
  const box = find("device").lastElementChild;
  whenChanged(box, [units, soundOn, sounds, t("Sound")], () => {
    const button = (text, name, pressed) => {
      const made = el("button", { type: "button", onclick: () => act(name) }, text);
      made.dataset.act = name;
      if (pressed !== undefined) made.setAttribute("aria-pressed", String(pressed));
      return made;
    };
    const focused = document.activeElement?.dataset?.act;
    box.replaceChildren(
      button("°C", "C", units.temperature === "C"),
      button("°F", "F", units.temperature === "F"),
      button("g", "g", units.mass === "g"),
      button("oz", "oz", units.mass === "oz"),
      ...(sounds ? [button(t("Sound"), "sound", soundOn), button(t("Test the sound"), "test")] : []),
    );
    if (focused) box.querySelector(`[data-act="${focused}"]`)?.focus();
  });
}

const TICK_MS = 1000;
const NAP_MS = 8000;

/** Keeps the screen on as long as the page is seen; gives whether this can be done at all. */
export async function keepAwake() {
  if (!navigator.wakeLock) return false;
  const hold = () =>
    navigator.wakeLock.request("screen").then(
      () => true,
      () => false,
    );
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) hold();
  });
  return hold();
}

/** Ticks once a second, and says how long nothing ticked or was seen [ms] once it goes on. */
export function watchSleep(tick, woke) {
  let last = Date.now();
  let hiddenAt = document.hidden ? last : null;
  const look = () => {
    const now = Date.now();
    if (document.hidden) {
      hiddenAt ??= Math.min(last, now);
    } else {
      const since = hiddenAt ?? last;
      hiddenAt = null;
      if (now - since > NAP_MS) woke(now - since);
    }
    last = now;
  };
  setInterval(() => {
    look();
    tick();
  }, TICK_MS);
  document.addEventListener("visibilitychange", look);
}
