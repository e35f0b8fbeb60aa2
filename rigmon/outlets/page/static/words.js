// What the page itself says, in the maker's language: English is the key.

let words = {};

export function learn(translations) {
  words = translations ?? {};
}

export function t(text, figures = {}) {
  const said = words[text] ?? text;
  return said.replace(/\{(\w+)\}/g, (whole, name) => figures[name] ?? whole);
}
