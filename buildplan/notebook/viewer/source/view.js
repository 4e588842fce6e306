// Entry: one view in a notebook's cell. The model holds the state; page and picture follow it.
import { button, check, colourBar, digitsFor, make, number, select, slider, spotList, withUnit } from "./panel.js";
import { Stage } from "./stage.js";
import { Tags } from "./tags.js";

const SEND_MS = 120;
const TURN = Math.PI / 24;
const NEAR = "250px"; // views so near to the window are drawn, others keep their last picture
const AWAY_MS = 300;
const HINT = "Drag to turn; click the part to read a place";
const SIDES = [
  ["a corner, isometric", [45, 35.2644]], ["the front", [0, 0]], ["the right", [90, 0]], ["behind", [180, 0]],
  ["the left", [-90, 0]], ["above", [0, 89.9]], ["below", [0, -89.9]],
];

function render({ model, el }) {
  const header = model.get("header");
  const root = make("div", "bp-view");
  root.dataset.lmSuppressShortcuts = "true"; // keys are for this view while it has the focus
  const picture = make("div", "bp-picture");
  const frame = make("div", "bp-frame");
  frame.tabIndex = 0;
  frame.setAttribute("role", "application");
  frame.setAttribute("aria-label", `${header.title}: 3-D view; arrow keys turn it, plus and minus zoom, Home shows all`);
  const over = make("div", "bp-over");
  picture.append(frame, over);
  const main = make("div", "bp-main");
  const bar = make("div");
  const read = make("div", "bp-read");
  read.setAttribute("aria-live", "polite");
  const tools = make("div", "bp-tools");
  const controls = make("div", "bp-controls");
  main.append(picture, read, bar, tools, controls);
  root.append(make("h2", "bp-title", header.title), main);
  el.append(root);

  const stage = new Stage(frame, header, model.get("data"), (what) => tell(what));

  let waiting = 0;
  const send = () => {
    if (!waiting) waiting = setTimeout(() => { waiting = 0; model.save_changes(); }, SEND_MS);
  };
  const set = (name, value) => { model.set(name, value); send(); };

  const tags = new Tags(over, stage, header, (index) => choose(index));
  function tell(what) {
    if (what === "lost") { root.dataset.picture = "kept"; return; }
    tags.place();
    if (what !== "still") { root.dataset.moving = "true"; return; }
    tags.fade();
    set("target_mm", stage.controls.target.toArray());
    set("eye_mm", stage.camera.position.toArray());
    root.dataset.frames = stage.frames;
    delete root.dataset.moving;
  }

  // --- drawn only in sight -------------------------------------------------------------------------
  let broken = null; // why this browser draws nothing
  const wake = () => {
    if (broken) return;
    try {
      stage.wake();
      root.dataset.picture = "live";
    } catch (error) {
      broken = error.message;
      root.dataset.picture = "still";
      showStill();
    }
  };
  const sleep = () => {
    if (broken || !stage.renderer) return;
    stage.sleep();
    root.dataset.picture = "kept";
  };
  let address = null;
  function showStill() {
    if (!broken) return;
    const still = model.get("still");
    const words = `This browser draws no 3-D picture (${broken}). Switch WebGL on or use another browser to turn the part`;
    frame.replaceChildren(make("p", "bp-broken", still?.byteLength ? `${words}; this is a picture from the usual side.` : `${words}; the list tells the same.`));
    over.hidden = true;
    if (read.textContent === HINT) read.textContent = "Choose from the list to read a place";
    picture.classList.add("bp-stands");
    if (!still?.byteLength) return;
    if (address) URL.revokeObjectURL(address);
    address = URL.createObjectURL(new Blob([still], { type: "image/png" }));
    const image = make("img");
    image.src = address;
    image.alt = header.title;
    frame.append(image);
  }

  // --- the list ----------------------------------------------------------------------------------
  let ownSection = false; // the view cut the part open itself, to show what lies inside
  const choose = (index) => {
    if (model.get("chosen") === index) visit(); else set("chosen", index);
  };
  function visit() {
    const chosen = model.get("chosen");
    const spot = header.spots[chosen];
    read.textContent = !spot ? HINT : `${chosen + 1} ${spot.kind}, ${spot.where}: ${spot.what}`;
    if (ownSection) { ownSection = false; set("section", {}); }
    if (chosen < 0) { stage.home(); return; }
    const hidden = stage.visit(chosen);
    if (!hidden) return;
    const { direction, middle } = hidden, [x, y, z] = direction.toArray().map(Math.abs);
    const axis = x >= y && x >= z ? 0 : y >= z ? 1 : 2;
    set("section", { axis, at_mm: middle.getComponent(axis), far: direction.getComponent(axis) < 0 });
    ownSection = true;
  }
  const list = spotList(header, choose);
  root.append(list.section);

  // --- tools -------------------------------------------------------------------------------------
  const look = select({
    label: "seen from", options: [["", "choose"], ...SIDES.map(([name], k) => [k, name])],
    change: (value) => {
      if (value === "") return;
      set("flat", true);
      stage.look(SIDES[Number(value)][1]);
      look.show("");
    },
  });
  look.input.dataset.control = "look";
  look.line.className = "bp-look";
  const flat = check({ label: "no perspective", change: (on) => set("flat", on) });
  const white = check({ label: "white ground", change: (on) => set("white", on) });
  const whole = () => { if (model.get("chosen") >= 0) set("chosen", -1); else stage.home(); };
  tools.append(
    button("Whole", "Show the whole part", whole), button("+", "Nearer", () => stage.zoom(0.8)),
    button("\u2212", "Farther", () => stage.zoom(1.25)), look.line, flat.line, white.line,
  );
  read.textContent = HINT;

  // --- controls ----------------------------------------------------------------------------------
  const shown = [];
  const follow = (names, show) => { shown.push([names, show]); };
  if (header.values.length) {
    const own = header.spots.some((spot) => spot.item >= 0) ? "findings" : "body";
    const by = select({
      label: "colour by",
      options: [[-1, own], ...header.values.map((one, k) => [k, one.name])],
      change: (value) => set("colour_by", Number(value)),
    });
    controls.append(by.line);
    follow(["colour_by"], () => by.show(model.get("colour_by")));
  }
  if (header.items.some((item) => item.apart.some((x) => x !== 0))) {
    const apart = slider({
      label: "move apart", min: 0, max: 100, step: 1, say: (v) => `${v}\u00a0%`,
      change: (v) => set("apart_frac", v / 100),
    });
    apart.input.dataset.control = "apart";
    controls.append(apart.line);
    follow(["apart_frac"], () => apart.show(Math.round(100 * model.get("apart_frac"))));
  }
  if (header.poses) {
    const { at, name, unit } = header.poses;
    const pose = slider({
      label: name, min: 0, max: at.length - 1, step: 1, say: (v) => withUnit(at[v], digitsFor(at.at(-1) - at[0]), unit),
      change: (v) => set("pose", v),
    });
    pose.input.dataset.control = "pose";
    controls.append(pose.line);
    follow(["pose"], () => pose.show(Math.min(at.length - 1, Math.max(0, model.get("pose")))));
  }
  addSection();
  addParts();

  function addSection() {
    const box = () => stage.whole;
    const axis = select({
      label: "cut open", options: [[-1, "no"], [0, "across x"], [1, "across y"], [2, "across z"]],
      change: (value) => {
        ownSection = false;
        const k = Number(value);
        if (k < 0) { set("section", {}); return; }
        const { min, max } = box();
        set("section", { axis: k, at_mm: (min.getComponent(k) + max.getComponent(k)) / 2, far: k === 1 });
      },
    });
    const now = () => model.get("section");
    const at = slider({
      label: "cut at", min: 0, max: 1000, step: 1,
      say: (v) => { const [low, high] = ends(); return withUnit(low + (v / 1000) * (high - low), digitsFor(high - low), "mm"); },
      change: (v) => {
        ownSection = false;
        const [low, high] = ends();
        set("section", { ...now(), at_mm: low + (v / 1000) * (high - low) });
      },
    });
    at.input.dataset.control = "section";
    axis.input.dataset.control = "cut";
    const flip = check({ label: "other side", change: (on) => set("section", { ...now(), far: on }) });
    const ends = () => {
      const k = now().axis ?? 2, { min, max } = box();
      return [min.getComponent(k), max.getComponent(k)];
    };
    axis.line.append(flip.line);
    controls.append(axis.line, at.line);
    follow(["section"], () => {
      const on = now().axis !== undefined;
      axis.show(on ? now().axis : -1);
      at.line.hidden = !on;
      flip.line.hidden = !on;
      if (!on) return;
      flip.show(Boolean(now().far));
      const [low, high] = ends();
      at.show(Math.round((1000 * (now().at_mm - low)) / (high - low)));
    });
  }

  function addParts() {
    if (header.items.length < 2) return;
    const group = make("fieldset", "bp-parts");
    group.append(make("legend", "bp-label", "shown"));
    const boxes = header.items.map((item, k) => check({
      label: item.name, colour: item.colour,
      change: (on) => {
        const hidden = model.get("hidden").filter((other) => other !== k);
        set("hidden", on ? hidden : [...hidden, k].sort((a, b) => a - b));
      },
    }));
    const all = make("div", "bp-boxes");
    all.append(...boxes.map((box) => box.line));
    group.append(all);
    controls.append(group);
    follow(["hidden"], () => boxes.forEach((box, k) => box.show(!model.get("hidden").includes(k))));
  }

  // --- the picture follows the model -------------------------------------------------------------
  follow(["colour_by", "chosen"], () => {
    stage.colour(model.get("colour_by"), model.get("chosen"));
    list.show(model.get("chosen"));
    const values = stage.values[model.get("colour_by")];
    bar.replaceChildren(...(values ? [colourBar(values, header.look)] : []));
  });
  follow(["apart_frac", "pose"], () => stage.stand(model.get("apart_frac"), Math.min((header.poses?.at.length ?? 1) - 1, Math.max(0, model.get("pose")))));
  follow(["hidden"], () => stage.hide(model.get("hidden")));
  follow(["section"], () => stage.section(model.get("section")));
  follow(["flat"], () => { flat.show(model.get("flat")); stage.flatten(model.get("flat")); });
  follow(["still"], showStill);
  follow(["white"], () => { white.show(model.get("white")); root.classList.toggle("bp-white", model.get("white")); stage.ground(model.get("white")); });
  const listeners = shown.flatMap(([names, show]) => names.map((name) => [`change:${name}`, show]));
  listeners.push(["change:chosen", visit]);
  for (const [name, show] of listeners) model.on(name, show);
  for (const [, show] of shown) show();

  // --- mouse and keys ----------------------------------------------------------------------------
  let pressed = null;
  frame.addEventListener("pointerdown", (event) => { pressed = [event.clientX, event.clientY]; });
  frame.addEventListener("pointerup", (event) => {
    const held = pressed && Math.hypot(event.clientX - pressed[0], event.clientY - pressed[1]) < 4;
    pressed = null;
    if (!held || broken || event.button !== 0) return;
    const box = frame.getBoundingClientRect();
    const hit = stage.pick((event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height);
    if (!hit) { read.textContent = "Nothing there"; return; }
    const place = hit.point.toArray().map((x) => number(x, 1)).join(", ");
    const values = stage.values[model.get("colour_by")];
    const value = hit.value === null || Number.isNaN(hit.value) ? ""
      : `${values.name} ${hit.value >= values.high && values.capped ? "at least " : ""}${withUnit(hit.value, 2, values.unit)}; `;
    read.textContent = `${header.items[hit.item].name}: ${value}at ${place}\u00a0mm`;
    if (hit.spot >= 0 && model.get("colour_by") < 0) choose(hit.spot);
  });
  let focused = false;
  frame.addEventListener("focus", () => { focused = true; });
  frame.addEventListener("blur", () => { focused = false; });
  frame.addEventListener("pointerenter", wake); // a browser may have taken the means to draw
  frame.addEventListener("wheel", (event) => {
    if (!focused || broken) return;
    event.preventDefault();
    event.stopPropagation();
    stage.zoom(Math.exp(Math.max(-60, Math.min(60, event.deltaY)) / 240));
  }, { passive: false });
  frame.addEventListener("keydown", (event) => {
    const act = {
      ArrowLeft: () => stage.turn(-TURN, 0), ArrowRight: () => stage.turn(TURN, 0),
      ArrowUp: () => stage.turn(0, TURN), ArrowDown: () => stage.turn(0, -TURN),
      "+": () => stage.zoom(0.85), "=": () => stage.zoom(0.85), "-": () => stage.zoom(1.18), Home: () => stage.home(),
    }[event.key];
    if (!act || broken || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    event.stopPropagation();
    act();
  });

  const resized = new ResizeObserver(() => {
    const width = Math.floor(frame.clientWidth);
    if (width < 40) return;
    const first = stage.width === undefined;
    stage.size(width, frame.clientHeight);
    if (first && model.get("chosen") >= 0) visit();
  });
  resized.observe(frame);
  let leaving = 0;
  const sight = new IntersectionObserver(([entry]) => {
    clearTimeout(leaving);
    if (entry.isIntersecting) wake(); else leaving = setTimeout(sleep, AWAY_MS);
  }, { rootMargin: NEAR });
  sight.observe(picture);

  return () => {
    clearTimeout(waiting);
    clearTimeout(leaving);
    resized.disconnect();
    sight.disconnect();
    if (address) URL.revokeObjectURL(address);
    for (const [name, show] of listeners) model.off(name, show);
    stage.dispose();
  };
}

export default { render };
