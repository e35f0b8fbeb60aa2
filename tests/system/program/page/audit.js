// Gives what breaks WCAG 2.2 AA (success criteria by number) on a page as it stands: contrast
// (1.4.3, 1.4.11), names (4.1.2), targets (2.5.8, and 64 px for marks), structure (1.3.1, 2.4.6),
// reflow (1.4.10), language (3.1.1), identifiers, live regions (4.1.3).
() => {
  const wrong = [];
  const seen = (node) => {
    const box = node.getBoundingClientRect();
    const style = getComputedStyle(node);
    return box.width > 1 && box.height > 1 && style.visibility !== "hidden" && style.opacity !== "0";
  };
  const called = (node) => `${node.tagName.toLowerCase()}#${node.id || node.className || node.textContent.slice(0, 20)}`;

  const pen = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  const colour = (text) => {
    pen.clearRect(0, 0, 1, 1);
    pen.fillStyle = text;
    pen.fillRect(0, 0, 1, 1);
    const [r, g, b, a] = pen.getImageData(0, 0, 1, 1).data;
    return { rgb: [r, g, b], alpha: a / 255 };
  };
  const luminance = ([r, g, b]) =>
    [r, g, b].map((x) => x / 255).map((x) => (x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4))
      .reduce((sum, x, i) => sum + x * [0.2126, 0.7152, 0.0722][i], 0);
  const contrast = (a, b) => {
    const [high, low] = [luminance(a), luminance(b)].sort((x, y) => y - x);
    return (high + 0.05) / (low + 0.05);
  };
  const ground = (node) => {
    for (let at = node; at; at = at.parentElement) {
      const { rgb, alpha } = colour(getComputedStyle(at).backgroundColor);
      if (alpha > 0.99) return rgb;
    }
    return [255, 255, 255];
  };
  const faded = (node) => {
    let share = 1;
    for (let at = node; at; at = at.parentElement) share *= Number(getComputedStyle(at).opacity);
    return share;
  };

  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode.parentElement;
    if (!walker.currentNode.textContent.trim() || !seen(node) || node.closest("svg, .unseen, noscript")) continue;
    const style = getComputedStyle(node);
    const behind = ground(node);
    const { rgb, alpha } = colour(style.color);
    const share = alpha * faded(node);
    const shown = rgb.map((x, i) => x * share + behind[i] * (1 - share));
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    const found = contrast(shown, behind);
    if (found < (large ? 3 : 4.5)) wrong.push(`1.4.3 ${called(node)}: ${found.toFixed(2)}`);
  }

  for (const node of document.querySelectorAll("button, a[href], input, summary")) {
    if (!seen(node)) continue;
    const label = node.labels?.[0]?.textContent ?? "";
    const name = (node.getAttribute("aria-label") ?? (label || node.textContent)).trim();
    if (!name) wrong.push(`4.1.2 ${called(node)} has no name`);
    const box = node.getBoundingClientRect();
    const least = node.closest("#actions") ? 63.5 : 24;
    if (box.height < least || box.width < 24) wrong.push(`2.5.8 ${called(node)}: ${box.width} x ${box.height}`);
    if (node.tabIndex > 0) wrong.push(`2.4.3 ${called(node)} jumps the queue`);
    const style = getComputedStyle(node);
    if (!node.matches(".bare, a, summary, .plain, [type=radio]") && parseFloat(style.borderTopWidth) > 0) {
      // A field that is filled with another colour than what is around it needs no edge.
      const around = ground(node.parentElement);
      const edge = Math.max(contrast(colour(style.borderTopColor).rgb, around), contrast(ground(node), around));
      if (edge < 3) wrong.push(`1.4.11 ${called(node)}: edge ${edge.toFixed(2)}`);
    }
  }

  const ids = [...document.querySelectorAll("[id]")].map((node) => node.id);
  for (const id of new Set(ids.filter((id, i) => ids.indexOf(id) !== i))) wrong.push(`id ${id} is there twice`);
  for (const name of ["aria-labelledby", "aria-describedby", "aria-controls"]) {
    for (const node of document.querySelectorAll(`[${name}]`)) {
      for (const id of node.getAttribute(name).split(" ")) {
        if (!document.getElementById(id)) wrong.push(`4.1.2 ${called(node)}: ${name} leads nowhere`);
      }
    }
  }
  if (document.querySelectorAll("main").length !== 1) wrong.push("1.3.1 one main");
  if ([...document.querySelectorAll("h1")].filter(seen).length > 1) wrong.push("2.4.6 more than one h1");
  if (!document.documentElement.lang) wrong.push("3.1.1 no language");
  if (!document.title) wrong.push("2.4.2 no title");
  for (const role of ["status", "alert"]) {
    if (!document.querySelector(`[role=${role}]`)) wrong.push(`4.1.3 no ${role}`);
  }
  const wide = document.documentElement.scrollWidth;
  if (wide > innerWidth) wrong.push(`1.4.10 ${wide} px on ${innerWidth}`);
  for (const node of document.querySelectorAll("main *, header *")) {
    if (seen(node) && !node.closest("svg, .unseen") && node.getBoundingClientRect().right > innerWidth + 1) {
      wrong.push(`1.4.10 ${called(node)} sticks out`);
    }
  }
  return wrong;
};
