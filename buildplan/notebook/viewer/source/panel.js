// The page around the picture. Every text that comes from a file is written as text, never as markup.

export function make(tag, className = "", text = "") {
  const made = document.createElement(tag);
  if (className) made.className = className;
  if (text) made.textContent = text;
  return made;
}

let serial = 0;
const fresh = () => `bp-view-${++serial}`;

export function number(value, digits) {
  const text = Math.abs(value).toFixed(digits);
  return (value < 0 && Number(text) !== 0 ? "\u2212" : "") + text;
}

export function digitsFor(span) {
  return span >= 20 ? 0 : span >= 2 ? 1 : span >= 0.2 ? 2 : 3;
}

const gap = (unit) => (unit && unit !== "°" ? `\u00a0${unit}` : unit);

export function withUnit(value, digits, unit) {
  return number(value, digits) + gap(unit);
}

function row(label, ...controls) {
  const line = make("div", "bp-row");
  line.append(label, ...controls);
  return line;
}

export function slider({ label, min, max, step, say, change }) {
  const name = make("label", "bp-label", label);
  const input = make("input");
  Object.assign(input, { type: "range", id: fresh(), min, max, step });
  name.htmlFor = input.id;
  const said = make("output", "bp-said");
  said.htmlFor = input.id;
  const show = (value) => {
    input.value = value;
    said.textContent = say(Number(value));
    input.setAttribute("aria-valuetext", said.textContent);
  };
  input.addEventListener("input", () => { show(input.value); change(Number(input.value)); });
  return { line: row(name, input, said), input, show };
}

export function select({ label, options, change }) {
  const name = make("label", "bp-label", label);
  const input = make("select");
  input.id = fresh();
  name.htmlFor = input.id;
  for (const [value, text] of options) {
    const option = make("option", "", text);
    option.value = value;
    input.append(option);
  }
  input.addEventListener("change", () => change(input.value));
  return { line: row(name, input), input, show: (value) => { input.value = String(value); } };
}

export function check({ label, colour, change }) {
  const line = make("label", "bp-check");
  const input = make("input");
  input.type = "checkbox";
  input.addEventListener("change", () => change(input.checked));
  line.append(input);
  if (colour) {
    const patch = make("span", "bp-patch");
    patch.style.backgroundColor = colour;
    line.append(patch);
  }
  line.append(make("span", "", label));
  return { line, input, show: (on) => { input.checked = on; } };
}

export function button(text, title, act) {
  const made = make("button", "bp-button", text);
  made.type = "button";
  made.title = title;
  made.setAttribute("aria-label", title);
  made.addEventListener("click", act);
  return made;
}

// The signs are drawings of this package, not texts from a file.
export function sign(look, kind) {
  const made = make("span", "bp-sign");
  if (look.signs[kind]) made.innerHTML = look.signs[kind];
  return made;
}

export function spotList(header, choose) {
  const section = make("section", "bp-list");
  section.append(make("h3", "", header.list_title));
  if (!header.spots.length) section.append(make("p", "bp-muted", "nothing found"));
  const list = make("ol");
  const buttons = header.spots.map((spot, index) => {
    const entry = make("li");
    const act = make("button", "bp-spot");
    act.type = "button";
    const head = make("span", "bp-head");
    head.append(sign(header.look, spot.kind), make("b", "", `${index + 1}`));
    if (spot.kind !== "step") head.append(make("span", "", spot.kind));
    head.append(make("span", "bp-muted", spot.where));
    const more = make("span", "bp-more");
    for (const text of spot.more) more.append(make("span", "", text));
    if (!spot.box.length) more.append(make("span", "bp-muted", "no one place to show"));
    act.append(head, make("span", "bp-what", spot.what), more);
    act.addEventListener("click", () => choose(index));
    entry.append(act);
    list.append(entry);
    return act;
  });
  section.append(list);
  const show = (chosen) => buttons.forEach((act, k) => {
    act.setAttribute("aria-pressed", k === chosen);
    act.classList.toggle("bp-chosen", k === chosen);
  });
  return { section, buttons, show };
}

function ticks(low, high) {
  const span = high - low;
  const raw = span / 4, power = 10 ** Math.floor(Math.log10(raw));
  const step = power * [1, 2, 2.5, 5, 10].find((k) => k * power >= raw * 0.999);
  const found = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * span; k++) found.push(k * step);
  const digits = Math.max(0, Math.min(6, -Math.floor(Math.log10(step) + 1e-9) + (step / power === 2.5 ? 1 : 0)));
  return { found, digits };
}

export function colourBar(values, look) {
  const bar = make("div", "bp-bar");
  const head = make("div", "bp-bar-name", `${values.name}, ${values.unit}`);
  const strip = make("div", "bp-strip");
  strip.style.backgroundImage = `linear-gradient(to right, ${look.bar.join(",")})`;
  const scale = make("div", "bp-scale");
  const share = (value) => (value - values.low) / (values.high - values.low);
  const { found, digits } = ticks(values.low, values.high);
  for (const value of found) {
    const tick = make("span", "bp-tick", number(value, digits));
    tick.style.left = `${100 * share(value)}%`;
    scale.append(tick);
  }
  for (const [value] of values.limits) {
    const line = make("span", "bp-limit");
    line.style.left = `${100 * share(value)}%`;
    strip.append(line);
  }
  const notes = values.limits.map(([value, words]) => `black line: ${words} ${withUnit(value, 2, values.unit)}`);
  if (values.capped) notes.push(`${withUnit(values.high, 2, values.unit)} or more at the right end`);
  if (values.numbers.some(Number.isNaN)) notes.push("grey: not measured");
  bar.append(head, strip, scale);
  if (notes.length) bar.append(make("div", "bp-muted bp-notes", notes.join("; ")));
  return bar;
}
