// What is wrong with the page that is shown: each function returns a list of sentences, empty when nothing is.
// They run in the page; test_page_checks.py shows that each finds what it is there for.

const checks = {};

// ---- what is seen ----------------------------------------------------------------------------------------------------

function named(element) {
  const words = element.textContent.trim().replace(/\s+/g, " ").slice(0, 40);
  return `<${element.localName}${element.id ? "#" + element.id : ""}> "${words}"`;
}

function is_shown(element) {
  if (!element.checkVisibility({ opacityProperty: true, visibilityProperty: true })) return false;
  const box = element.getBoundingClientRect();
  return box.width > 1 && box.height > 1;  // one pixel: for screen readers only
}

function is_clipped_away(element) {  // the usual way of hiding words from the eye alone
  for (let at = element; at; at = at.parentElement) {
    const style = getComputedStyle(at);
    if (style.position === "absolute" && (style.clip.startsWith("rect(0") || style.clipPath.startsWith("inset(50%"))) return true;
  }
  return false;
}

function scroller_of(element) {
  for (let at = element.parentElement; at && at !== document.body && at !== document.documentElement; at = at.parentElement)
    if (["auto", "scroll"].includes(getComputedStyle(at).overflowX)) return at;
  return null;
}

function shown_texts() {  // [text node, its element], of what is seen
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    if (!node.data.trim() || element.closest("script, style, title, desc, metadata, template")) continue;
    if (is_shown(element) && !is_clipped_away(element)) found.push([node, element]);
  }
  return found;
}

const svg_labels = (svg) => [...svg.querySelectorAll("text")].filter((one) => one.textContent.trim() && is_shown(one));

// ---- layout ----------------------------------------------------------------------------------------------------------

checks.overflow = () => {
  const root = document.scrollingElement;
  const width = root.clientWidth;
  const found = [];
  if (root.scrollWidth > width) found.push(`the page is ${root.scrollWidth} px wide in a window of ${width} px`);
  for (const element of document.body.querySelectorAll("*")) {
    if (element.ownerSVGElement || !is_shown(element) || is_clipped_away(element) || scroller_of(element)) continue;
    const box = element.getBoundingClientRect();
    if (box.right > width + 0.5 || box.left < -0.5)
      found.push(`${named(element)} reaches from ${box.left.toFixed(1)} to ${box.right.toFixed(1)} px of ${width}`);
  }
  return found;
};

checks.window_follows_device = (width) =>
  window.innerWidth === width ? [] : [`laid out for ${window.innerWidth} px on a device of ${width} (meta viewport)`];

checks.cut_text = () => {
  const found = [];
  for (const [, element] of shown_texts()) {
    for (let at = element; at && at !== document.documentElement; at = at.parentElement) {
      const style = getComputedStyle(at);
      const wide = ["hidden", "clip"].includes(style.overflowX) && at.scrollWidth > at.clientWidth + 1;
      const tall = ["hidden", "clip"].includes(style.overflowY) && at.scrollHeight > at.clientHeight + 1;
      const is_picture = at.ownerSVGElement || at.localName === "svg";
      if (!is_picture && at.clientWidth && (wide || tall)) found.push(`${named(at)} cuts its text`);
    }
  }
  return [...new Set(found)];
};

checks.labels_inside_pictures = () => {
  const found = [];
  for (const svg of document.querySelectorAll("svg")) {
    const frame = svg.getBoundingClientRect();
    for (const label of svg_labels(svg)) {
      const box = label.getBoundingClientRect();
      const out = Math.max(frame.left - box.left, box.right - frame.right, frame.top - box.top, box.bottom - frame.bottom);
      if (out > 0.5) found.push(`${named(label)} reaches ${out.toFixed(1)} px out of its picture`);
    }
  }
  return found;
};

checks.labels_apart = () => {
  const found = [];
  const ink = (label) => {  // a line's box has room above capitals and below the baseline that no ink fills
    const box = label.getBoundingClientRect();
    const turned = box.height > box.width && label.textContent.trim().length > 2;
    const x = turned ? 0.15 * box.width : 0, y = turned ? 0 : 0.15 * box.height;
    return { left: box.left + x, right: box.right - x, top: box.top + y, bottom: box.bottom - y };
  };
  for (const svg of document.querySelectorAll("svg")) {
    const boxes = svg_labels(svg).map((label) => [label, ink(label)]);
    boxes.forEach(([one, a], i) => boxes.slice(i + 1).forEach(([other, b]) => {
      const x = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const y = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (x > 0.5 && y > 0.5) found.push(`${named(one)} and ${named(other)} overlap by ${x.toFixed(1)} by ${y.toFixed(1)} px`);
    }));
  }
  return found;
};

checks.labels_legible = (least_px) => {
  const found = [];
  for (const svg of document.querySelectorAll("svg"))
    for (const label of svg_labels(svg)) {
      const size = shown_size(label);
      if (size < least_px - 0.05) found.push(`${named(label)} is shown ${size.toFixed(1)} px high, at least ${least_px}`);
    }
  return found;
};

checks.pictures_stay_whole_in_print = () => {
  const found = [];
  for (const svg of document.querySelectorAll("svg")) {
    let at = svg;
    while (at && !getComputedStyle(at).breakInside.startsWith("avoid")) at = at.parentElement;
    if (!at && is_shown(svg)) found.push(`${named(svg)}: a page may end within it (break-inside)`);
  }
  return found;
};

// ---- colours ---------------------------------------------------------------------------------------------------------

const pixel = Object.assign(document.createElement("canvas"), { width: 1, height: 1 }).getContext("2d", { willReadFrequently: true });

function colour_of(text) {  // any CSS colour as [red, green, blue, alpha], 0 to 255 and 0 to 1
  pixel.clearRect(0, 0, 1, 1);
  pixel.fillStyle = text;
  pixel.fillRect(0, 0, 1, 1);
  const [r, g, b, a] = pixel.getImageData(0, 0, 1, 1).data;
  return [r, g, b, a / 255];
}

const over = (front, back) => [0, 1, 2].map((i) => front[i] * front[3] + back[i] * (1 - front[3])).concat(1);
const faded = (colour, by) => [colour[0], colour[1], colour[2], colour[3] * by];

function luminance(colour) {  // WCAG 2.1, relative luminance
  const [r, g, b] = colour.slice(0, 3).map((c) => (c / 255 <= 0.03928 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

function contrast(one, other) {  // WCAG 2.1, contrast ratio
  const [low, high] = [luminance(one), luminance(other)].sort((a, b) => a - b);
  return (high + 0.05) / (low + 0.05);
}

function shown_size(element) {
  const scale = element.ownerSVGElement ? element.getScreenCTM() : null;
  return parseFloat(getComputedStyle(element).fontSize) * (scale ? Math.hypot(scale.a, scale.b) : 1);
}

function opacity_of(element) {
  let out = 1;
  for (let at = element; at; at = at.parentElement) out *= parseFloat(getComputedStyle(at).opacity);
  return out;
}

function paint_of(element) {  // what fills it, or null
  const style = getComputedStyle(element);
  if (!element.ownerSVGElement) return colour_of(style.backgroundColor);
  const shape = ["rect", "path", "polygon", "circle", "ellipse"].includes(element.localName);
  if (!shape || style.fill === "none" || style.fill.startsWith("url")) return null;
  return faded(colour_of(style.fill), parseFloat(style.fillOpacity) * opacity_of(element));
}

function background_of(element) {  // behind its middle, or behind all its ancestors
  const canvas = colour_of("canvas");
  const layers = [];
  if (element.ownerSVGElement) {
    const box = element.getBoundingClientRect();
    const stack = document.elementsFromPoint((box.left + box.right) / 2, (box.top + box.bottom) / 2);
    const own = stack.indexOf(element);
    const behind = stack.slice(own + 1).filter((at) => !element.contains(at) && !at.closest("text, [data-reading]"));
    layers.push(...behind.map(paint_of));  // marks and labels beneath are no ground
  } else {
    for (let at = element; at; at = at.parentElement) layers.push(paint_of(at));
  }
  return layers.filter(Boolean).reverse().reduce((back, front) => over(front, back), canvas);
}

checks.contrast = () => {
  const found = [];
  for (const [, element] of shown_texts()) {
    const style = getComputedStyle(element);
    const back = background_of(element);
    const ink = colour_of(element.ownerSVGElement ? style.fill : style.color);
    const ratio = contrast(over(faded(ink, opacity_of(element)), back), back);
    const size = shown_size(element);
    const large = size >= 24 || (size >= 18.66 && parseInt(style.fontWeight) >= 700);  // WCAG 2.1 1.4.3
    const least = large ? 3 : 4.5;
    if (ratio < least) found.push(`${named(element)} has a contrast of ${ratio.toFixed(2)}, at least ${least}`);
  }
  return [...new Set(found)];
};

checks.mark_contrast = () => {  // WCAG 2.1 1.4.11, non-text contrast
  const found = [];
  for (const mark of document.querySelectorAll("[data-reading]")) {
    const drawn = mark.matches("g, use") ? [...mark.querySelectorAll("*")] : [mark];
    const back = background_of(mark.matches("g") ? drawn[0] || mark : mark);
    const ratios = drawn.flatMap((part) => {
      const style = getComputedStyle(part);
      const inks = [[style.fill, style.fillOpacity], [style.stroke, style.strokeOpacity]].filter(([ink]) => ink !== "none");
      return inks.map(([ink, alpha]) => contrast(over(faded(colour_of(ink), parseFloat(alpha) * opacity_of(part)), back), back));
    });
    const ratio = Math.max(1, ...ratios);
    if (ratio < 3) found.push(`mark ${mark.dataset.reading} has a contrast of ${ratio.toFixed(2)}, at least 3`);
  }
  return found;
};

// ---- structure -------------------------------------------------------------------------------------------------------

checks.document = () => {
  const found = [];
  if (!document.documentElement.lang) found.push("html has no lang");
  if (!document.title.trim()) found.push("no title");
  if (document.compatMode !== "CSS1Compat") found.push("no doctype");
  if (document.characterSet !== "UTF-8" || !document.querySelector("meta[charset]")) found.push("no meta charset of UTF-8");
  if (document.querySelectorAll("main").length !== 1) found.push(`${document.querySelectorAll("main").length} main landmarks, not one`);
  const ids = [...document.querySelectorAll("[id]")].map((one) => one.id);
  for (const id of new Set(ids.filter((one, i) => ids.indexOf(one) !== i))) found.push(`id "${id}" twice`);
  for (const attribute of ["aria-labelledby", "aria-describedby", "for", "headers"])
    for (const one of document.querySelectorAll(`[${attribute}]`))
      for (const id of one.getAttribute(attribute).split(/\s+/))
        if (!document.getElementById(id)) found.push(`${attribute} of <${one.localName}> names "${id}", which is not there`);
  for (const link of document.querySelectorAll("a")) {
    const href = link.getAttribute("href");
    if (!link.textContent.trim() && !link.getAttribute("aria-label")) found.push("a link without words");
    const inside = href && href.startsWith("#");
    if (inside && !document.getElementById(decodeURIComponent(href.slice(1)))) found.push(`link to ${href}, which is not there`);
  }
  return found;
};

checks.headings = () => {
  const found = [];
  const headings = [...document.querySelectorAll("h1, h2, h3, h4, h5, h6")];
  const ones = headings.filter((one) => one.localName === "h1").length;
  if (ones !== 1) found.push(`${ones} headings h1, not one`);
  let before = 0;
  for (const one of headings) {
    const level = Number(one.localName[1]);
    if (level > before + 1) found.push(`${named(one)} follows ${before ? "h" + before : "no heading"}`);
    if (!one.textContent.trim()) found.push(`an empty ${one.localName}`);
    before = level;
  }
  return found;
};

checks.pictures_described = () => {
  const found = [];
  for (const svg of document.querySelectorAll("svg")) {
    if (svg.parentElement.closest("svg")) continue;
    const title = svg.querySelector(":scope > title"), desc = svg.querySelector(":scope > desc");
    if (svg.getAttribute("role") !== "img") found.push("an svg without role=img");
    if (!title || !title.textContent.trim()) found.push("an svg without a title");
    if (!desc || !desc.textContent.trim()) found.push("an svg without a desc");
  }
  for (const image of document.querySelectorAll("img:not([alt])")) found.push(`an img without alt: ${image.getAttribute("src")}`);
  return found;
};

checks.tables = () => {
  const found = [];
  for (const table of document.querySelectorAll("table")) {
    const heads = [...table.querySelectorAll("th")];
    if (!heads.length) found.push(`${named(table)} has no th`);
    for (const th of heads)
      if (!["col", "row", "colgroup", "rowgroup"].includes(th.getAttribute("scope"))) found.push(`${named(th)} has no scope`);
  }
  return found;
};

checks.scrollers_take_keys = () => {
  const found = [];
  for (const element of document.body.querySelectorAll("*")) {
    const scrolls = ["auto", "scroll"].includes(getComputedStyle(element).overflowX) && element.scrollWidth > element.clientWidth + 1;
    if (scrolls && element.tabIndex < 0) found.push(`${named(element)} scrolls sideways, but not by keyboard (tabindex)`);
  }
  return found;
};

// ---- nothing runs, nothing is hidden in the words --------------------------------------------------------------------

checks.inert = () => {
  const found = [];
  const live = "script, iframe, object, embed, base, form, input, button, link, img, audio, video, foreignObject, animate, set, " +
               "meta[http-equiv=refresh]";
  // An empty icon keeps a browser from asking for one.
  const empty_icon = (one) => one.matches('link[rel="icon"][href="data:,"]');
  for (const one of document.querySelectorAll(live)) if (!empty_icon(one)) found.push(`a <${one.localName}> element`);
  for (const one of document.querySelectorAll("*"))
    for (const { name, value } of one.attributes) {
      if (/^on/i.test(name)) found.push(`<${one.localName}> has ${name}`);
      const address = /^(xlink:)?(href|src|srcset|action|formaction|data|poster)$/i.test(name);
      if (address && !empty_icon(one) && /^\s*(javascript|vbscript|data):/i.test(value)) found.push(`<${one.localName}> has ${name}="${value.slice(0, 40)}"`);
    }
  return found;
};

// Whether what turns the direction of writing in a text is also ended in it: otherwise it turns what stands beside it too.
function turns_its_surroundings(text) {  // Unicode UAX #9: embeddings end with U+202C, isolates with U+2069
  const open = [];
  for (const letter of text) {
    if ("\u202a\u202b\u202d\u202e\u2066\u2067\u2068".includes(letter)) open.push(letter >= "\u2066" ? "isolate" : "embedding");
    if (letter === "\u202c" && open.pop() !== "embedding") return true;
    if (letter === "\u2069") {
      while (open.length && open[open.length - 1] === "embedding") open.pop();
      if (open.pop() !== "isolate") return true;
    }
  }
  return open.length > 0;
}

checks.characters = () => {
  const found = [];
  const walker = document.createTreeWalker(document, NodeFilter.SHOW_TEXT | NodeFilter.SHOW_ELEMENT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const is_text = node.nodeType === Node.TEXT_NODE;
    const element = is_text ? node.parentElement : node;
    for (const text of is_text ? [node.data] : [...node.attributes].map((one) => one.value)) {
      const control = text.match(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f]/);
      if (control) found.push(`<${element.localName}> holds the control character U+${control[0].charCodeAt(0).toString(16)}`);
      if (turns_its_surroundings(text) && !(is_text && element.localName === "bdi"))
        found.push(`<${element.localName}> holds a direction of writing that is not ended: "${text.slice(0, 40)}"`);
    }
  }
  return [...new Set(found)];
};

// ---- what is there ---------------------------------------------------------------------------------------------------

checks.marks = () =>  // {picture, reading, group: its data-speed, suspect, seen}
  [...document.querySelectorAll("[data-reading]")].map((mark) => {
    const box = mark.getBoundingClientRect(), svg = mark.closest("svg");
    const frame = (svg || mark).getBoundingClientRect();  // a test read once is a number and no picture
    const x = (box.left + box.right) / 2, y = (box.top + box.bottom) / 2;
    const group = mark.closest("[data-speed]");
    return {
      picture: [...document.querySelectorAll("svg")].indexOf(svg),
      reading: mark.dataset.reading,
      group: group ? group.dataset.speed : null,
      suspect: /suspect/.test(mark.getAttribute("class") || ""),
      seen: mark.checkVisibility({ opacityProperty: true, visibilityProperty: true }) && (box.width > 0 || box.height > 0) &&
            x >= frame.left && x <= frame.right && y >= frame.top && y <= frame.bottom,
    };
  });

checks.words = () => shown_texts().flatMap(([node]) => node.data.split(/\s+/)).filter(Boolean);

checks.whole_text = () => document.body.textContent;

checks.all = (asked) =>  // [[name, its arguments]...] -> ["name: what is wrong"...]
  asked.flatMap(([name, ...given]) => checks[name](...given).map((said) => `${name}: ${said}`));
