/* The view that turns: draws the points of a comparison with WebGL2 and says what is found at a spot. The files in view/ come
   before it. Lengths are mm, angles rad; X rearward, Y right as seated, Z up. The view is parallel, so that its scale holds
   everywhere. */

function make(tag, attributes, ...children) {
  const own = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes || {})) {
    if (name.startsWith("on")) own.addEventListener(name.slice(2), value);
    else if (value === true) own.setAttribute(name, "");
    else if (value !== false && value !== undefined) own.setAttribute(name, value);
  }
  own.append(...children);
  return own;
}

const KINDS = {
  hole: "Holes", place: "Named places", pad: "Pads", edge: "Edges", spot: "Spots", bead: "Beads", recess: "Recesses",
};
/** What the ± of a click is a ± of; that of a region and that at a pad have the setting's in them. */
const OF_THIS_SPOT = "\u00b1: of this spot alone, how it was set not counted in.";
const SECTIONS = ["none", "front to rear (X)", "left to right (Y)", "up and down (Z)"];
/** How long nothing must be asked for before the whole is drawn, and how long of a frame that may take, ms. */
const REST_MS = 180, FILL_MS = 25;
let views = 0;

class View {
  constructor(element, model, data) {
    this.data = data;
    this.model = model;
    const { sets } = model;
    this.camera = new Camera(boundsOf(sets));
    this.pace = new Pace();
    this.number = ++views;
    this.state = {
      shown: { reference: true, measured: !sets.reference }, coloured: true, unseen_too: true,
      limit: data.limit_mm, end: data.end_mm, larger: 0, axis: 0, offset: 0, other: false,
    };
    this.slack = 50 * model.most_mm;
    this.frames = 0;
    this.drawn = { share: 0, finer: 0, whole: false };
    this.fingers = new Map();
    this.build(element);
    this.begin();
    this.listen();
    this.resize();
    this.camera.fit(this.camera.bounds, this.size);
    this.relimit();
    this.draw(performance.now());
  }

  /** Takes hold of the graphics processor, at the start and after the browser has taken it away. */
  begin() {
    const gl = this.canvas.getContext("webgl2", { antialias: false, alpha: false, depth: false, powerPreference: "high-performance" });
    if (!gl) throw new Error(NO_WEBGL);
    this.painter = new Painter(gl, this.model, this.data);
  }

  build(element) {
    const id = (word) => `wm-${word}-${this.number}`;
    this.canvas = make("canvas", {
      class: "wm-canvas", tabindex: 0, role: "img", "aria-describedby": id("help"),
      "aria-label": "The metal in its colours: pale within the limit, orange with dots proud, purple with lines shy, hatched not measured.",
    });
    this.over = make("canvas", { class: "wm-over", "aria-hidden": "true" });
    this.stamp = make("div", { class: "wm-stamp", hidden: true });
    this.limitStamp = make("div", { class: "wm-stamp", hidden: true });
    this.stage = make("div", { class: "wm-stage" }, this.canvas, this.over, make("div", { class: "wm-stamps" }, this.limitStamp, this.stamp));
    this.said = make("div", { class: "wm-figure", role: "status", "aria-live": "polite" });
    this.say(null, ["Click or touch a spot of the metal, or press Enter for the one at the cross, and its figure is said here."]);
    this.bar = make("canvas", { class: "wm-bar", "aria-hidden": "true" });
    this.ends = [make("span", {}), make("span", {}), make("span", {})];
    const legend = make("div", { class: "wm-legend" }, this.bar, make("div", { class: "wm-ends" }, ...this.ends),
      make("div", { class: "wm-keys" },
        make("span", { class: "wm-key wm-not-measured" }, "not measured"),
        make("span", { class: "wm-key wm-beyond" }, "beyond the edge of the measured set"),
        make("span", { class: "wm-key wm-measured" }, "measured points")));
    const help = make("p", { class: "wm-help", id: id("help") },
      "Drag or arrow keys turn it. Right drag, shift and drag, shift and arrows, or two fingers move it. Wheel, pinch, + and " +
      "\u2212 bring it nearer. 1 front, 2 rear, 3 left, 4 right, 5 plan, 6 below, 0 all. Enter says the figure at the middle.");
    const panel = make("div", { class: "wm-panel" }, this.said, this.stands(), ...this.lists(), this.switches(),
      this.limits(), this.movement(), this.section(), help);
    this.root = make("div", { class: "wm-view" }, make("div", { class: "wm-picture" }, this.stage, legend), panel);
    element.replaceChildren(this.root);
  }

  group(title, ...children) {
    return make("fieldset", { class: "wm-group" }, make("legend", {}, title), ...children);
  }

  button(words, act, label) {
    return make("button", { type: "button", class: "wm-button", "aria-label": label, onclick: act }, words);
  }

  stands() {
    const group = this.group("Look from", ...SIX.map((name) => this.button(name, () => this.stand(name))),
      this.button("All", () => this.all()), this.button("+", () => this.nearer(1 / 1.3), "nearer"),
      this.button(MINUS, () => this.nearer(1.3), "farther"));
    group.classList.add("wm-stands");
    return group;
  }

  check(words, on, act) {
    const box = make("input", { type: "checkbox", onchange: () => { act(box.checked); this.request(); } });
    box.checked = on;
    return make("label", { class: "wm-check" }, box, words);
  }

  switches() {
    const { state } = this, { sets } = this.model;
    const rows = [];
    if (sets.reference) {
      rows.push(this.check("Reference", true, (on) => { state.shown.reference = on; }));
    }
    if (sets.measured) rows.push(this.check("Measured", state.shown.measured, (on) => { state.shown.measured = on; }));
    if (sets.reference) {
      rows.push(this.check("Deviation", true, (on) => { state.coloured = on; }),
        this.check("Not measured", true, (on) => { state.unseen_too = on; }));
    }
    return this.group("Shown", ...rows);
  }

  /** A range with its words beside it; returns the row, and what moves it from outside. */
  range(words, [low, high, step, value], say, act) {
    const out = make("output", {});
    const input = make("input", { type: "range", min: low, max: high, step });
    const tell = () => {
      out.textContent = say(Number(input.value));
      input.setAttribute("aria-valuetext", out.textContent);
    };
    input.addEventListener("input", () => { act(Number(input.value)); tell(); this.request(); });
    input.value = value;
    tell();
    const move = (next) => { input.value = next; tell(); };
    return { row: make("label", { class: "wm-range" }, make("span", {}, words), out, input), move, input, tell };
  }

  limits() {
    const { state, data } = this, parts = INCH / 64;
    const widest = Math.max(32, Math.ceil(4 * data.limit_mm / parts));
    const say = (mm) => `${fine(mm)} in (${mm.toFixed(1)} mm)`;
    // A limit in millimetres stays as it was compared until the slider is moved.
    const limit = this.range("Limit ±", [1, widest, 1, Math.round(state.limit / parts)], () => say(state.limit), (steps) => {
      state.limit = steps * parts;
      state.end = Math.max(state.end, state.limit + parts);
      this.relimit();
    });
    const end = this.range("Darkest from", [2, Math.max(64, 2 * widest), 1, Math.round(state.end / parts)], () => say(state.end), (steps) => {
      state.end = steps * parts;
      state.limit = Math.min(state.limit, state.end - parts);
      this.relimit();
    });
    this.afterLimit = () => {
      limit.move(Math.round(state.limit / parts));
      end.move(Math.round(state.end / parts));
    };
    const back = this.button("As compared", () => {
      Object.assign(state, { limit: data.limit_mm, end: data.end_mm });
      this.relimit();
      this.request();
    });
    return this.group("Limit", limit.row, end.row, back);
  }

  movement() {
    const say = (k) => (k === 0 ? "not drawn" : k === 1 ? "as it is" : `${k} × larger`);
    const draw = (k) => {
      this.state.larger = k;
      this.stamp.hidden = k <= 1;
      this.stamp.textContent = `movement drawn ${k} × larger`;
    };
    const larger = this.range("Drawn", [0, 50, 1, 0], say, draw);
    this.unmove = () => { draw(0); larger.move(0); };
    return this.group("Movement to the measured metal", larger.row);
  }

  section() {
    const { state } = this, { low, high } = this.camera.bounds, parts = INCH / 16;
    const say = (steps) => (state.axis ? `${"XYZ"[state.axis - 1]} ${place(steps * parts)} in` : "");
    const slider = this.range("Plane at", [0, 1, 1, 0], say, (steps) => { state.offset = steps * parts; });
    slider.input.disabled = true;
    const cut = () => {
      state.axis = Number(choice.value);
      slider.input.disabled = state.axis === 0;
      if (state.axis) {
        slider.input.min = Math.floor(low[state.axis - 1] / parts);
        slider.input.max = Math.ceil(high[state.axis - 1] / parts);
        slider.move(Math.round((low[state.axis - 1] + high[state.axis - 1]) / 2 / parts));
        state.offset = Number(slider.input.value) * parts;
      } else slider.tell();
      this.request();
    };
    const choice = make("select", { onchange: cut }, ...SECTIONS.map((words, value) => make("option", { value }, words)));
    this.uncut = () => { choice.value = "0"; cut(); };
    return this.group("Section", make("label", { class: "wm-range" }, make("span", {}, "Cut"), choice), slider.row,
      this.check("Keep the other side", false, (on) => { state.other = on; }));
  }

  lists() {
    const row = (id, name, beside, words) => make("li", {}, make("button", { type: "button", class: "wm-go", onclick: () => this.fly(id) },
      make("b", {}, name), beside ? make("span", { class: "wm-verdict" }, beside) : "", words ? make("small", {}, words) : ""));
    const list = (title, rows, open) => make("details", { class: "wm-list", open }, make("summary", {}, `${title} (${rows.length})`), make("ul", {}, ...rows));
    const found = [];
    const { regions, marks } = this.data;
    // On a narrow screen a long list would push everything else away.
    const room = !matchMedia("(max-width: 52rem)").matches;
    // What is in comes last: he looks for what is not.
    const inLast = [...regions].sort((a, b) => Number(a.verdict === "in") - Number(b.verdict === "in"));
    if (regions.length) found.push(list("Regions", inLast.map((r) => row(r.id, r.name, r.verdict, r.words)), room));
    for (const [kind, title] of Object.entries(KINDS)) {
      const own = marks.filter((mark) => mark.kind === kind);
      if (own.length) found.push(list(title, own.map((m) => row(m.id, m.name, "", m.words)), false));
    }
    return found;
  }

  // -- hands ----------------------------------------------------------------------------------------------------------

  listen() {
    const { canvas } = this;
    const spot = (event) => {
      const box = canvas.getBoundingClientRect();
      return [event.clientX - box.left, event.clientY - box.top];
    };
    canvas.addEventListener("contextmenu", (event) => event.preventDefault());
    canvas.addEventListener("pointerdown", (event) => {
      canvas.setPointerCapture(event.pointerId);
      this.settle();
      this.fingers.set(event.pointerId, spot(event));
      this.still = this.fingers.size === 1 && event.button === 0 && !event.shiftKey ? spot(event) : null;
      this.slides = event.button > 0 || event.shiftKey;
    });
    canvas.addEventListener("pointermove", (event) => {
      if (this.fingers.has(event.pointerId)) this.dragged(event.pointerId, spot(event));
    });
    const up = (event) => {
      this.fingers.delete(event.pointerId);
      if (event.type === "pointerup" && this.still) this.ask(...this.still, event.pointerType === "touch" ? 14 : 5);
      this.still = null;
    };
    canvas.addEventListener("pointerup", up);
    canvas.addEventListener("pointercancel", up);
    canvas.addEventListener("wheel", (event) => {
      event.preventDefault();
      const lines = event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? 400 : 1;
      const [x, y] = spot(event);
      this.nearer(Math.exp(clamp(event.deltaY * lines, -300, 300) * 0.0015), x - this.size[0] / 2, y - this.size[1] / 2);
    }, { passive: false });
    canvas.addEventListener("keydown", (event) => { if (this.key(event)) event.preventDefault(); });
    for (const kind of ["focus", "blur"]) canvas.addEventListener(kind, () => this.request());
    canvas.addEventListener("webglcontextlost", (event) => { event.preventDefault(); this.stop(); this.painter = null; });
    canvas.addEventListener("webglcontextrestored", () => { this.begin(); this.request(); });
    new ResizeObserver(() => { this.resize(); this.relimit(); this.request(); }).observe(this.stage);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { this.resize(); this.request(); });
  }

  dragged(id, [x, y]) {
    const before = this.fingers.get(id);
    const [dx, dy] = [x - before[0], y - before[1]];
    // A finger that trembles does not turn the metal.
    if (this.still && Math.hypot(x - this.still[0], y - this.still[1]) < 5) return;
    this.still = null;
    if (this.fingers.size === 2) {
      const other = [...this.fingers].find(([key]) => key !== id)[1];
      const apart = (a) => Math.max(Math.hypot(a[0] - other[0], a[1] - other[1]), 10);
      this.camera.pan(dx / 2, dy / 2);
      this.camera.zoom(apart(before) / apart([x, y]), (x + other[0]) / 2 - this.size[0] / 2, (y + other[1]) / 2 - this.size[1] / 2);
    } else if (this.slides) this.camera.pan(dx, dy);
    else this.camera.turn(-dx * 0.4 * DEGREE, dy * 0.4 * DEGREE);
    this.fingers.set(id, [x, y]);
    this.request();
  }

  /** Whether a key is ours. */
  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return false;
    const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    this.settle();
    if (arrows[event.key]) {
      const [x, y] = arrows[event.key];
      if (event.shiftKey) this.camera.pan(40 * x, 40 * y);
      else this.camera.turn(-5 * x * DEGREE, 5 * y * DEGREE);
      this.request();
    } else if (event.key === "+" || event.key === "=") this.nearer(1 / 1.2);
    else if (event.key === "-" || event.key === MINUS) this.nearer(1.2);
    else if (event.key === "0") this.all();
    else if (event.key >= "1" && event.key <= "6") this.stand(SIX[Number(event.key) - 1]);
    else if (event.key === "Enter") this.ask(this.size[0] / 2, this.size[1] / 2, 5);
    else return false;
    return true;
  }

  nearer(times, x = 0, y = 0) {
    this.settle();
    this.camera.zoom(times, x, y);
    this.request();
  }

  stand(name) {
    const [round, height] = STANDS[name];
    this.glideTo((to) => {
      Object.assign(to, { round: round * DEGREE, height: height * DEGREE });
      to.fit(to.bounds, this.size);
    });
  }

  all() { this.glideTo((to) => to.fit(to.bounds, this.size)); }

  // -- flying ---------------------------------------------------------------------------------------------------------

  glideTo(change) {
    this.settle();
    const to = Object.assign(Object.create(Camera.prototype), this.camera);
    change(to);
    const from = { ...this.camera };
    // The shorter way round.
    from.round = to.round - (((to.round - from.round) / Math.PI + 1) % 2 + 2) % 2 * Math.PI + Math.PI;
    this.glide = { from, to, start: performance.now() };
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) this.settle();
    this.request();
  }

  /** Ends a glide where it leads. */
  settle() {
    if (this.glide) Object.assign(this.camera, this.glide.to);
    this.glide = null;
  }

  glideOn(now) {
    const { from, to, start } = this.glide, share = clamp((now - start) / 300, 0, 1), s = share * share * (3 - 2 * share);
    const mix = (a, b) => a + (b - a) * s;
    Object.assign(this.camera, {
      round: mix(from.round, to.round), height: mix(from.height, to.height), at: from.at.map((c, axis) => mix(c, to.at[axis])),
      mm_per_pixel: from.mm_per_pixel * (to.mm_per_pixel / from.mm_per_pixel) ** s,
    });
    if (share >= 1) this.settle();
    this.request();
  }

  /** Where the points of each region lie and which way their outside looks; worked out when first asked for. */
  regions() {
    if (this.known) return this.known;
    const set = this.model.sets.reference;
    this.known = this.data.regions.map(() => ({ low: [1e9, 1e9, 1e9], high: [-1e9, -1e9, -1e9], normal: [0, 0, 0], count: 0 }));
    for (let i = 0; set && i < set.count; i++) {
      const own = this.known[set.regions[i] - 1];
      if (!own) continue;
      for (let axis = 0; axis < 3; axis++) {
        const at = set.low[axis] + set.places[4 * i + axis] * set.step;
        if (at < own.low[axis]) own.low[axis] = at;
        if (at > own.high[axis]) own.high[axis] = at;
        own.normal[axis] += set.normals[4 * i + axis] / 127;
      }
      own.count++;
    }
    return this.known;
  }

  normalNear(place_mm) {
    const set = this.model.sets.reference;
    if (!set) return [0, 0, 0];
    const sum = [0, 0, 0], at = place_mm.map((c, axis) => (c - set.low[axis]) / set.step), far = (40 / set.step) ** 2;
    let count = 0;
    for (let i = 0; i < set.count; i++) {
      const { places, normals } = set;
      const x = places[4 * i] - at[0], y = places[4 * i + 1] - at[1], z = places[4 * i + 2] - at[2];
      if (x * x + y * y + z * z > far) continue;
      for (let axis = 0; axis < 3; axis++) sum[axis] += normals[4 * i + axis] / 127;
      count++;
    }
    return sum.map((c) => c / Math.max(count, 1));
  }

  /** At the agreed limit, with nothing cut away and no movement drawn: nothing hides or colours what is flown to. */
  plainly() {
    Object.assign(this.state, { limit: this.data.limit_mm, end: this.data.end_mm });
    this.unmove();
    this.uncut();
    this.relimit();
  }

  /** Flies to a region or a mark by its id; false where there is none. */
  fly(id) {
    const index = this.data.regions.findIndex((r) => r.id === id || r.id === id.replace(/^folds\//, "regions/"));
    const mark = this.data.marks.find((m) => m.id === id);
    if (!mark && index < 0) return false;
    this.plainly();
    if (mark) {
      const normal = this.normalNear(mark.at), reach = Math.max(100, this.camera.radius / 12);
      this.glideTo((to) => {
        to.face(normal, 84);
        to.fit({ low: mark.at.map((c) => c - reach), high: mark.at.map((c) => c + reach) }, this.size);
      });
      this.point = { at: mark.at, words: mark.name };
      this.say(mark.name, [mark.words, this.placeWords(mark.at)]);
    } else {
      const region = this.data.regions[index], own = this.regions()[index];
      const bounds = own.count ? own : region.low ? region : this.camera.bounds;
      this.glideTo((to) => {
        if (own.count) to.face(own.normal.map((c) => c / own.count), 66);
        to.fit(bounds, this.size);
      });
      this.point = null;
      this.say(region.name, [region.verdict, region.words]);
    }
    return true;
  }

  // -- figures --------------------------------------------------------------------------------------------------------

  placeWords(at) { return `X ${place(at[0])}, Y ${place(at[1])}, Z ${place(at[2])} in`; }

  /** The figure at a pixel of the canvas, or null where there is no metal. */
  figureAt(x, y, slack = 5) {
    this.settle();
    if (!this.painter) return null;
    const found = pick(this.model, this.look(), this.camera, [x, y], slack);
    if (!found) return null;
    const set = this.model.sets[found.name], i = found.index;
    let at = placeOf(set, i);
    const figure = { set: found.name, index: i, deviation_mm: null, pm_mm: null, state: null, region: null };
    if (found.name === "reference") {
      const { deviation_step_mm, pm_step_mm } = this.model;
      const figures = found.figures || [0, 1].map((which) => set.figures[2 * i + which]);
      const off = figures[0] * deviation_step_mm, pm = figures[1] * pm_step_mm;
      if (set.faces) {
        // Between the corners of a face the spot itself counts, brought back by how far it was drawn beside its place.
        const axes = this.camera.axes();
        at = found.eye.reduce((sum, c, k) => along(sum, c, axes[k]), this.camera.at);
        at = along(at, -this.state.larger * (found.state === 0 ? off : 0), normalOf(set, i));
      }
      figure.state = ["distance", "beyond the edge", "not measured"][found.state];
      if (found.state === 0) Object.assign(figure, { deviation_mm: off, pm_mm: pm < 0 ? null : pm });
      const region = this.data.regions[set.regions[i] - 1];
      figure.region = region ? region.name : null;
    }
    figure.at_mm = at;
    figure.words = this.figureWords(figure);
    return figure;
  }

  figureWords(figure) {
    const words = [];
    if (figure.state === null) words.push("a measured point");
    else if (figure.state === "beyond the edge") words.push("beyond the edge of the measured set: no figure");
    else if (figure.state === "not measured") words.push("not measured here: no figure");
    else {
      const { deviation_mm: off, pm_mm: pm } = figure;
      words.push(signed(off) + (pm === null ? ", ± not known" : ", " + plusMinus(pm)), this.judged(off, pm));
    }
    words.push(this.placeWords(figure.at_mm));
    return words;
  }

  judged(off, pm) {
    const side = off < 0 ? "shy" : "proud", size = Math.abs(off), { limit } = this.state;
    if (size + (pm || 0) <= limit) return pm !== null && size <= pm ? "within the limit: nil, its own ± hides it" : `within the limit, ${side}`;
    return size - (pm || 0) > limit ? `beyond the limit, ${side}` : `too close to call, ${side}`;
  }

  ask(x, y, slack) {
    const figure = this.figureAt(x, y, slack);
    if (!figure) {
      this.point = null;
      this.say(null, ["No metal there."]);
    } else {
      this.point = { at: this.drawnAt(figure), words: figure.words[0] };
      this.asked = figure;
      this.say(figure.region || (figure.set === "reference" ? "in no region" : "measured"), [...figure.words, figure.pm_mm !== null && OF_THIS_SPOT]);
    }
    this.request();
  }

  /** Where a place is drawn while the movement is drawn larger. */
  drawnAt(figure) {
    if (figure.deviation_mm === null) return figure.at_mm;
    return along(figure.at_mm, this.state.larger * figure.deviation_mm, normalOf(this.model.sets.reference, figure.index));
  }

  say(title, lines) {
    this.said.replaceChildren(...(title ? [make("b", {}, title)] : []), ...lines.filter(Boolean).map((line) => make("div", {}, line)));
  }

  // -- drawing --------------------------------------------------------------------------------------------------------

  resize() {
    this.ratio = clamp(window.devicePixelRatio || 1, 1, 2);
    this.size = [Math.max(this.stage.clientWidth, 50), Math.max(this.stage.clientHeight, 50)];
    for (const canvas of [this.canvas, this.over]) {
      const [wide, high] = this.size.map((length) => Math.round(length * this.ratio));
      if (canvas.width !== wide || canvas.height !== high) Object.assign(canvas, { width: wide, height: high });
    }
    const style = getComputedStyle(this.stage);
    const rgb = (text) => text.match(/[\d.]+/g).slice(0, 3).map((c) => Number(c) / 255);
    this.paper = rgb(style.backgroundColor);
    this.ink = style.color;
    this.font = style.fontFamily;
    this.measured = rgb(style.color).map((c, k) => 0.62 * c + 0.38 * this.paper[k]);
  }

  look() {
    const { state, data, model } = this;
    const share = (colour) => colour.map((c) => c / 255);
    const sign = state.other ? -1 : 1;
    const cut = [0, 0, 0, 1];
    if (state.axis) {
      cut[state.axis - 1] = sign;
      cut[3] = sign * state.offset;
    }
    return {
      shown: state.shown, coloured: state.coloured, unseen_too: state.unseen_too, limit: state.limit, end: state.end,
      larger: state.larger, cut, size: this.size, mm_per_pixel: this.camera.mm_per_pixel, paper: this.paper, measured: this.measured,
      figure_steps: [model.deviation_step_mm, model.pm_step_mm], within: share(data.within), plain: share(data.plain),
      unseen: share(data.unseen), not_measured: share(data.not_measured), beyond_edge: share(data.beyond_edge), ink: share(data.ink),
    };
  }

  cameraNow() { return this.camera.uniforms(this.size, this.slack); }

  /** Asks for a frame, quickly drawn; when nothing more is asked for the whole follows. */
  request() {
    this.stop();
    if (this.waiting) return;
    this.waiting = requestAnimationFrame((now) => {
      this.waiting = 0;
      this.draw(now);
    });
  }

  /** Leaves off drawing the whole. */
  stop() {
    clearTimeout(this.rest);
    cancelAnimationFrame(this.filling);
    this.drawn.whole = false;
  }

  draw(now) {
    this.stop();
    if (!this.painter) return;
    if (this.glide) this.glideOn(now);
    const begun = performance.now(), shown = Object.entries(this.model.sets).filter(([name]) => this.state.shown[name]);
    this.pace.total = shown.reduce((sum, [, { count, faces }]) => sum + count + (faces ? faces.length / 3 : 0), 0);
    const { share, scale } = this.pace;
    this.painter.quick(this.look(), this.cameraNow(), share, scale);
    this.annotate();
    this.drawn = { share, finer: scale, whole: false };
    this.frames++;
    this.pace.took(performance.now() - begun);
    this.rest = setTimeout(() => this.fill(), REST_MS);
  }

  /** Draws the whole while nothing moves: four times as many points each time, the last time finer; a little in each frame. */
  fill() {
    const stages = [], finest = this.ratio < 1.5 ? 2 : 1;
    for (let share = 4 * this.drawn.share; share < 1; share *= 4) stages.push([share, 1]);
    stages.push([1, 1], ...(finest > 1 ? [[1, finest]] : []));
    const look = this.look(), camera = this.cameraNow();
    let pieces = null;
    const on = () => {
      if (!this.painter) return;
      pieces ||= this.painter.fill(look, camera, ...stages[0]);
      if (this.painter.work(pieces, FILL_MS)) {
        const [share, finer] = stages.shift();
        this.drawn = { share, finer, whole: stages.length === 0 };
        pieces = null;
      }
      if (stages.length) this.filling = requestAnimationFrame(on);
    };
    this.filling = requestAnimationFrame(on);
  }

  annotate() {
    const page = this.over.getContext("2d"), [wide, high] = this.size;
    page.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    page.clearRect(0, 0, wide, high);
    page.font = `13px ${this.font}`;
    page.lineCap = "round";
    const paper = `rgb(${this.paper.map((c) => Math.round(255 * c)).join()})`;
    const halo = (draw) => {
      for (const [colour, more] of [[paper, 3], [this.ink, 0]]) {
        page.strokeStyle = page.fillStyle = colour;
        draw(more);
      }
    };
    const write = (words, x, y) => halo((more) => {
      page.lineWidth = more;
      if (more) page.strokeText(words, x, y);
      else page.fillText(words, x, y);
    });
    const line = (more, width, ...places) => {
      page.lineWidth = width + more;
      page.beginPath();
      places.forEach(([x, y], k) => (k ? page.lineTo(x, y) : page.moveTo(x, y)));
      page.stroke();
    };
    this.cross(halo, line, write, [86, high - 66]);
    this.scale(halo, line, write, [wide - 24, high - 22]);
    if (this.canvas.matches(":focus-visible")) {
      const [x, y] = [wide / 2, high / 2];
      halo((more) => { line(more, 1.5, [x - 9, y], [x + 9, y]); line(more, 1.5, [x, y - 9], [x, y + 9]); });
    }
    if (this.point && !this.cutAway(this.point.at)) {
      const [dx, dy] = this.camera.onPaper(this.point.at), [x, y] = [wide / 2 + dx, high / 2 + dy];
      halo((more) => {
        page.lineWidth = 2 + more;
        page.beginPath();
        page.arc(x, y, 9, 0, 2 * Math.PI);
        page.stroke();
      });
      // A plate of its own: over dots and lines words are hard to read.
      const length = page.measureText(this.point.words).width, room = length + 22;
      const left = x + room > wide ? Math.max(x - room, 7) : x + 16, base = clamp(y - 19, 17, high - 8);
      page.lineWidth = 1;
      page.fillStyle = paper;
      page.strokeStyle = this.ink;
      page.fillRect(left - 6, base - 15, length + 12, 21);
      page.strokeRect(left - 5.5, base - 14.5, length + 11, 20);
      page.fillStyle = this.ink;
      page.fillText(this.point.words, left, base);
    }
  }

  /** Whether the section leaves a place out. */
  cutAway(at) {
    const { axis, offset, other } = this.state;
    return axis > 0 && (at[axis - 1] - offset) * (other ? -1 : 1) > 0;
  }

  /** Which way is what. */
  cross(halo, line, write, [x, y]) {
    const axes = this.camera.axes();
    const arms = [["front", 0, -1], ["right", 1, 1], ["up", 2, 1]].map(([words, axis, sign]) => {
      const [u, v] = [sign * axes[0][axis], -sign * axes[1][axis]];
      return { words, u, v, length: Math.hypot(u, v) };
    });
    const covered = (arm) => arms.some((other) => other.length > arm.length && Math.hypot(other.u - arm.u, other.v - arm.v) < 0.6);
    for (const arm of arms) {
      // One that points at the looker, or along a longer one, says nothing.
      if (arm.length < 0.15 || covered(arm)) continue;
      const [u, v] = [arm.u / arm.length, arm.v / arm.length], tip = [x + 40 * arm.u, y + 40 * arm.v];
      const barb = (side) => [tip[0] - 7 * u + side * 4 * v, tip[1] - 7 * v - side * 4 * u];
      halo((more) => { line(more, 2, [x, y], tip); line(more, 2, barb(1), tip, barb(-1)); });
      write(arm.words, tip[0] + 9 * u - (u < -0.3 ? 28 : u > 0.3 ? 0 : 10), tip[1] + 12 * v + 4);
    }
  }

  scale(halo, line, write, [x, y]) {
    const inch = INCH / this.camera.mm_per_pixel;
    const lengths = [1 / 32, 1 / 16, 1 / 8, 1 / 4, 1 / 2, 1, 2, 4, 6, 12, 24, 36, 72];
    const length = lengths.filter((l) => l * inch <= 150).pop() || lengths[0];
    const left = x - length * inch;
    halo((more) => { line(more, 2, [left, y - 6], [left, y + 6], [left, y], [x, y], [x, y - 6], [x, y + 6]); });
    write(`${fraction(length * INCH, 32)} in (${(length * INCH).toFixed(length < 1 ? 1 : 0)} mm)`, x - Math.max(length * inch, 96), y - 12);
  }

  /** The legend and the sliders after a limit was changed; the spot that was asked about is judged anew. */
  relimit() {
    this.afterLimit();
    const { limit, end } = this.state, { data, bar } = this;
    const say = (mm) => `±${fine(mm)} in (${mm.toFixed(1)} mm)`;
    this.limitStamp.hidden = Math.abs(limit - data.limit_mm) < 1e-6;
    this.limitStamp.textContent = `limit ${say(limit)}, agreed ${say(data.limit_mm)}`;
    const wide = Math.round(Math.max(bar.clientWidth, 100) * this.ratio), high = Math.round(20 * this.ratio);
    Object.assign(bar, { width: wide, height: high });
    const page = bar.getContext("2d");
    const edge = (1 + limit / end) / 2 * wide, r = this.ratio;
    const ground = (x) => {
      const mm = ((x + 0.5) / wide * 2 - 1) * end, size = Math.abs(mm);
      const step = Math.round(127 * clamp((size - limit) / Math.max(end - limit, 1e-6), 0, 1));
      return size <= limit ? data.within : data.ramp[mm > 0 ? 128 + step : 127 - step];
    };
    // The same dots and lines as over the metal: pale where it is dark.
    const marked = ([red, green, blue]) => (0.299 * red + 0.587 * green + 0.114 * blue < 105 ? "rgba(255, 255, 255, 0.6)" : "rgba(28, 28, 30, 0.55)");
    for (let x = 0; x < wide; x++) {
      page.fillStyle = `rgb(${ground(x).join()})`;
      page.fillRect(x, 0, 1, high);
      page.fillStyle = marked(ground(x));
      for (let y = 3 * r; x < wide - edge && y < high; y += 7 * r) page.fillRect(x, y, 1, r);
    }
    for (let x = edge + 4 * r, k = 0; x < wide - 3 * r; x += 4 * r, k++) {
      page.fillStyle = marked(ground(x));
      for (let y = (k % 2 ? 3 : 7) * r; y < high; y += 8 * r) page.fillRect(x, y, 2 * r, 2 * r);
    }
    this.ends[0].textContent = `${MINUS} shy, ${MINUS}${fine(end)} in (${MINUS}${end.toFixed(1)} mm)`;
    this.ends[1].textContent = `within ±${fine(limit)} in (${limit.toFixed(1)} mm)`;
    this.ends[2].textContent = `+ proud, +${fine(end)} in (+${end.toFixed(1)} mm)`;
  }
}

// ---- the door -----------------------------------------------------------------------------------------------------

let view = null, ready = Promise.resolve(false);

/** Builds the view inside `element` from the packed points, as base64; `ready` becomes true when it is drawn, false where it
    can't be. */
function start(element, packed, data) {
  const began = async () => {
    // Let the page appear before the points are unpacked.
    await new Promise((soon) => setTimeout(soon, 0));
    try {
      view = new View(element, unpacked(await inflated(packed)), data);
    } catch (error) {
      view = null;
      const words = error.message === NO_WEBGL ? NO_WEBGL : `The view that turns could not be drawn (${error.message}). The pictures above show the same.`;
      element.replaceChildren(make("p", { class: "wm-missing" }, words));
    }
    return view !== null;
  };
  ready = began();
  return ready;
}

function fly(id) {
  return view !== null && view.fly(id);
}

function figureAt(x, y) { return view === null ? null : view.figureAt(x, y); }

/** For whoever measures: frames drawn while it moved, the share of the points in what is seen now, its pixels for one of the
    canvas, and whether that is the whole. */
function told() { return view && { frames: view.frames, points: view.pace.total, ...view.drawn }; }

globalThis.witnessmarkView = { start, fly, figureAt, told, get ready() { return ready; } };
