const tables = new WeakMap();
const SVG = "http://www.w3.org/2000/svg";
const TAP_PX = 5;
const WAIT_MS = 400;
const RIM_PX = 12;
const BELOW_PX = 62;
const SPUN = {
  "as-lies": ["face-over", "end-turned"], "face-over": ["as-lies", "end-over"],
  "end-turned": ["end-over", "as-lies"], "end-over": ["end-turned", "face-over"],
};

const within = (low, value, high) => Math.min(high, Math.max(low, value));
const pathOf = (points) => `M${points.map((point) => point.join(",")).join("L")}Z`;
const drawn = (tag, attributes, ...inside) => {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  node.append(...inside);
  return node;
};

class Table {
  constructor(root) {
    this.root = root;
    this.stage = root.querySelector(".stage");
    this.img = root.querySelector(".stage img");
    this.svg = root.querySelector(".stage svg");
    this.view = { scale: 1, x: 0, y: 0, fitted: true };
    this.fingers = new Map();
    this.chosen = null;
    this.moves = false;
    this.listen();
  }

  take(component) {
    this.send = component.setTriggerValue;
    const data = component.data;
    if (this.version === data.version) return;
    this.version = data.version;
    const sizes = [this.data?.box, data.box].map((box) => String(box));
    this.data = data;
    clearTimeout(this.waiting);
    this.waiting = null;
    this.held = null;
    this.order = [...data.order];
    this.start = data.start;
    this.shifts = { ...data.shifts };
    if (!this.order.includes(this.chosen)) this.chosen = null;
    this.img.onload = () => {
      if (sizes[0] !== sizes[1] && (this.view.fitted || sizes[0] === "undefined")) this.fit();
      else this.paint();
    };
    this.img.src = `data:image/jpeg;base64,${data.picture}`;
    this.img.alt = data.alt;
    this.stage.setAttribute("aria-label", data.alt);
    this.build();
  }

  said(words) { this.root.querySelector(".said").textContent = words; }

  // ---- the view: lengths of the match to pixels of the stage

  whole() {
    const [left, top, right, bottom] = this.data.box;
    return Math.min((this.stage.clientWidth - 2 * RIM_PX) / (right - left),
      (this.stage.clientHeight - RIM_PX - BELOW_PX) / (bottom - top));
  }
  fit() {
    if (!this.data || !this.stage.clientWidth) return;
    const [left, top, right, bottom] = this.data.box;
    const [wide, high] = [right - left, bottom - top];
    const full = (this.stage.clientWidth - 2 * RIM_PX) * high / wide + RIM_PX + BELOW_PX;
    this.stage.style.height = `${within(260, full, Math.min(window.innerHeight * 0.72, 780))}px`;
    const scale = this.whole();
    this.view = {
      scale, fitted: true,
      x: (this.stage.clientWidth - wide * scale) / 2 - left * scale,
      y: (this.stage.clientHeight + RIM_PX - BELOW_PX - high * scale) / 2 - top * scale,
    };
    this.paint();
  }
  nearer(factor, x, y) {
    const scale = within(this.whole() * 0.8, this.view.scale * factor, this.data.perMm * 4);
    const ratio = scale / this.view.scale;
    this.view = { scale, fitted: false, x: x - (x - this.view.x) * ratio, y: y - (y - this.view.y) * ratio };
    this.paint();
  }
  place(event) {
    const box = this.stage.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  // ---- painting

  /** What changes with the match, not with the view. */
  build() {
    const { pieces, scene } = this.data;
    this.scene = drawn("g", { class: "scene" }, ...scene.map((one) =>
      drawn("path", { d: one.path, class: one.kind })));
    this.outlines = pieces.map((piece) => drawn("path", {
      d: pathOf(piece.points), class: "piece", "data-leaf": piece.leaf }));
    this.ghosts = drawn("g", { class: "ghosts" });
    this.labels = pieces.map((piece) => drawn("text", { class: "label", "data-leaf": piece.leaf }));
    this.bar = drawn("g", { class: "bar" }, drawn("path", {}), drawn("text", {}));
    this.world = drawn("g", {}, this.scene, this.ghosts, ...this.outlines);
    this.svg.replaceChildren(this.world, ...this.labels, this.bar);
    this.paint();
    this.paintTools();
  }

  paint() {
    if (!this.data || !this.img.naturalWidth) return;
    const { scale, x, y, fitted } = this.view;
    // while the whole match shows, one finger and the plain wheel still scroll the page
    this.stage.style.touchAction = fitted && !this.moves ? "pan-y" : "none";
    this.img.style.transform = `translate(${x}px, ${y}px) scale(${scale / this.data.perMm})`;
    this.world.setAttribute("transform", `translate(${x} ${y}) scale(${scale})`);
    this.data.pieces.forEach((piece, at) => this.paintLabel(piece, this.labels[at]));
    this.outlines.forEach((one) => one.classList.toggle("chosen", one.dataset.leaf === this.chosen));
    this.paintBar();
  }

  paintLabel(piece, label) {
    const { scale, x, y } = this.view;
    const { row, length } = this.data;
    const down = this.shiftOf(piece.leaf);
    const wide = piece.wide * scale;
    const words = [piece.leaf, ...(piece.turned ? ["turned"] : []),
      ...(down ? [`${Math.abs(down)} ${down > 0 ? "\u2193" : "\u2191"}`] : [])];
    const at = [piece.at[0] * scale + x, row ? length * scale + y + 15 : piece.at[1] * scale + y];
    label.replaceChildren(...words.map((word, line) => {
      const span = drawn("tspan", { x: at[0], dy: line ? 14 : 0, class: line ? "small" : "" });
      span.textContent = word;
      return span;
    }));
    label.setAttribute("x", at[0]);
    label.setAttribute("y", at[1]);
    label.classList.toggle("inside", !row);
    label.style.display = wide < 13 ? "none" : "";
    label.style.fontSize = `${within(9, wide / 3, 15)}px`;
    label.classList.toggle("chosen", piece.leaf === this.chosen);
  }

  paintBar() {
    const { unit } = this.data;
    const most = Math.min(160, this.stage.clientWidth / 3) / this.view.scale;
    const decade = 10 ** Math.floor(Math.log10(most));
    const long = [5, 2, 1].map((step) => step * decade).find((step) => step <= most);
    const [line, words] = this.bar.children;
    const y = this.stage.clientHeight - 8;
    line.setAttribute("d", `M${RIM_PX},${y - 5}v5h${long * this.view.scale}v-5`);
    words.setAttribute("x", RIM_PX + 6 + long * this.view.scale);
    words.setAttribute("y", y);
    words.textContent = unit === "mm" ? `${long} mm` : "no scale";
  }

  paintTools() {
    const at = this.order.indexOf(this.chosen);
    const none = at < 0;
    const off = {
      up: none, down: none, zero: none || !this.shiftOf(this.chosen), left: at < 1,
      right: none || at === this.order.length - 1, with: none,
      again: this.start === "as-lies" && !Object.values(this.shifts).some(Boolean)
        && String(this.order) === String(this.data.stock),
    };
    for (const [act, is] of Object.entries(off)) {
      this.root.querySelector(`[data-act=${act}]`).disabled = is;
    }
    this.swaps &&= !none;
    for (const [act, is] of [["moves", this.moves], ["with", this.swaps]]) {
      this.root.querySelector(`[data-act=${act}]`).setAttribute("aria-pressed", String(Boolean(is)));
    }
    const field = this.root.querySelector("input");
    field.disabled = none;
    field.value = none ? "" : this.shiftOf(this.chosen);
    this.root.querySelector(".chosen-name").textContent = none ? "No leaf chosen" : `Leaf ${this.chosen}`;
    this.stage.classList.toggle("moving", this.moves);
  }

  /** Show leaves that are moved but not yet laid anew: each piece's picture moved within it. */
  paintGhosts() {
    const parts = [];
    this.data.pieces.forEach((piece, at) => {
      const by = this.shiftOf(piece.leaf) - (this.data.shifts[piece.leaf] ?? 0);
      if (!by) return;
      const angle = piece.angle * Math.PI / 180;
      const [dx, dy] = [-Math.sin(angle) * by, Math.cos(angle) * by];
      const clip = drawn("clipPath", { id: `piece-${at}` }, drawn("path", { d: pathOf(piece.points) }));
      const image = drawn("image", {
        href: this.img.src, width: this.img.naturalWidth / this.data.perMm,
        height: this.img.naturalHeight / this.data.perMm, preserveAspectRatio: "none",
      });
      const moved = drawn("g", { transform: `translate(${dx} ${dy})` },
        drawn("g", { "clip-path": `url(#piece-${at})` }, image));
      parts.push(clip, drawn("path", { d: pathOf(piece.points), class: "bare" }),
        drawn("g", { "clip-path": `url(#piece-${at})` }, moved));
    });
    this.ghosts.replaceChildren(...parts);
  }

  // ---- laying the leaves otherwise

  shiftOf(leaf) { return this.shifts[leaf] ?? 0; }

  choose(leaf) {
    if (this.swaps && leaf !== null) this.swap(this.chosen, leaf);
    this.swaps = false;
    this.chosen = leaf;
    this.paint();
    this.paintTools();
  }

  /** Move a leaf to so many millimetres down its grain, as far as it reaches. */
  shiftTo(leaf, down, wait = WAIT_MS) {
    const [least, most] = this.data.room[leaf];
    const to = within(least, Math.round(down * 10) / 10, most);
    if (to !== Math.round(down * 10) / 10) {
      this.said(`Leaf ${leaf} can be moved up by ${-least} and down by ${most} ${this.data.unit}.`);
    } else {
      this.said(`Leaf ${leaf} moved ${Math.abs(to)} ${this.data.unit} ${to < 0 ? "up" : "down"}.`);
    }
    this.shifts[leaf] = to;
    this.paintGhosts();
    this.paint();
    this.paintTools();
    if (wait !== null) this.tell(wait);
  }

  swap(leaf, other) {
    const [one, two] = [this.order.indexOf(leaf), this.order.indexOf(other)];
    if (one < 0 || two < 0 || one === two) return;
    [this.order[one], this.order[two]] = [other, leaf];
    this.said(`Leaves ${leaf} and ${other} change places.`);
    this.tell();
    this.paintTools();
  }

  /** Tell how the leaves are to lie; several steps soon after each other are told at once. */
  tell(wait = WAIT_MS) {
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => {
      const shifts = Object.fromEntries(Object.entries(this.shifts).filter(([, down]) => down));
      this.send("arranged", { order: this.order, start: this.start, shifts });
    }, wait);
  }

  act(name) {
    const step = Number(this.root.querySelector("select").value);
    const at = this.order.indexOf(this.chosen);
    const acts = {
      in: () => this.nearer(1.5, this.stage.clientWidth / 2, this.stage.clientHeight / 2),
      out: () => this.nearer(1 / 1.5, this.stage.clientWidth / 2, this.stage.clientHeight / 2),
      fit: () => this.fit(),
      moves: () => {
        this.moves = !this.moves;
        this.said(this.moves ? "Drag a leaf along its grain." : "Drag moves the picture.");
        this.paint();
        this.paintTools();
      },
      up: () => this.shiftTo(this.chosen, this.shiftOf(this.chosen) - step),
      down: () => this.shiftTo(this.chosen, this.shiftOf(this.chosen) + step),
      zero: () => this.shiftTo(this.chosen, 0),
      left: () => this.swap(this.chosen, this.order[at - 1]),
      right: () => this.swap(this.chosen, this.order[at + 1]),
      with: () => {
        this.swaps = !this.swaps;
        if (this.swaps) this.said(`Tap the leaf that changes places with leaf ${this.chosen}.`);
        this.paintTools();
      },
      flip: () => { this.start = SPUN[this.start][0]; this.tell(0); },
      edge: () => { this.start = SPUN[this.start][1]; this.tell(0); },
      again: () => {
        [this.order, this.start, this.shifts] = [[...this.data.stock], "as-lies", {}];
        this.tell(0);
      },
    };
    acts[name]?.();
  }

  // ---- mouse, finger, keyboard

  down(event) {
    if (event.button) return;
    const leaf = event.target.closest(".piece")?.dataset.leaf ?? null;
    this.fingers.set(event.pointerId, [event.clientX, event.clientY]);
    this.stage.setPointerCapture(event.pointerId);
    this.pressed = { leaf, at: [event.clientX, event.clientY], far: false };
    if (this.moves && leaf !== null && this.fingers.size === 1) {
      const piece = this.data.pieces.find((one) => one.leaf === leaf && this.under(one, event))
        ?? this.data.pieces.find((one) => one.leaf === leaf);
      this.held = { leaf, angle: piece.angle * Math.PI / 180, from: this.shiftOf(leaf) };
      this.choose(leaf);
    }
  }

  under(piece, event) {
    const [x, y] = this.place(event);
    const at = [(x - this.view.x) / this.view.scale, (y - this.view.y) / this.view.scale];
    return piece.points.every(([x0, y0], corner) => {
      const [x1, y1] = piece.points[(corner + 1) % piece.points.length];
      return (x1 - x0) * (at[1] - y0) - (y1 - y0) * (at[0] - x0) >= 0;
    });
  }

  drag(event) {
    const before = this.fingers.get(event.pointerId);
    if (!before) return;
    const now = [event.clientX, event.clientY];
    const [dx, dy] = [now[0] - this.pressed.at[0], now[1] - this.pressed.at[1]];
    this.pressed.far ||= Math.hypot(dx, dy) > TAP_PX;
    if (this.fingers.size === 2) {
      this.held = null;
      const other = [...this.fingers].find(([id]) => id !== event.pointerId)[1];
      const apart = (point) => Math.hypot(point[0] - other[0], point[1] - other[1]) || 1;
      const box = this.stage.getBoundingClientRect();
      this.nearer(apart(now) / apart(before),
        (now[0] + other[0]) / 2 - box.left, (now[1] + other[1]) / 2 - box.top);
    } else if (this.held && this.pressed.far) {
      const { leaf, angle, from } = this.held;
      const along = (dy * Math.cos(angle) - dx * Math.sin(angle)) / this.view.scale;
      this.shiftTo(leaf, Math.round(from + along), null);
    } else if (!this.held && this.pressed.far) {
      this.view.x += now[0] - before[0];
      this.view.y += now[1] - before[1];
      this.view.fitted = false;
      this.paint();
    }
    this.fingers.set(event.pointerId, now);
  }

  lift(event) {
    if (!this.fingers.delete(event.pointerId)) return;
    if (this.held && this.pressed.far) this.tell(0);
    else if (!this.pressed.far && event.type === "pointerup") this.choose(this.pressed.leaf);
    this.held = null;
  }

  key(event) {
    const step = event.shiftKey ? 10 : 1;
    const at = this.order.indexOf(this.chosen);
    const next = (by) => this.choose(this.order[within(0, at < 0 ? 0 : at + by, this.order.length - 1)]);
    const acts = {
      ArrowUp: () => at >= 0 && this.shiftTo(this.chosen, this.shiftOf(this.chosen) - step),
      ArrowDown: () => at >= 0 && this.shiftTo(this.chosen, this.shiftOf(this.chosen) + step),
      ArrowLeft: () => (event.shiftKey ? this.act("left") : next(-1)),
      ArrowRight: () => (event.shiftKey ? this.act("right") : next(1)),
      "+": () => this.act("in"), "-": () => this.act("out"), 0: () => this.act("fit"),
    };
    if (!acts[event.key]) return;
    event.preventDefault();
    acts[event.key]();
  }

  listen() {
    const { stage, root } = this;
    stage.addEventListener("wheel", (event) => {
      if (this.view.fitted && !event.ctrlKey) return;
      event.preventDefault();
      this.nearer(Math.exp(-event.deltaY * 0.0015), ...this.place(event));
    }, { passive: false });
    stage.addEventListener("pointerdown", (event) => this.down(event));
    stage.addEventListener("pointermove", (event) => this.drag(event));
    stage.addEventListener("pointerup", (event) => this.lift(event));
    stage.addEventListener("pointercancel", (event) => this.lift(event));
    stage.addEventListener("dblclick", (event) => { if (!this.moves) this.nearer(2, ...this.place(event)); });
    stage.addEventListener("keydown", (event) => this.key(event));
    root.addEventListener("click", (event) => {
      const act = event.target.closest("[data-act]")?.dataset.act;
      if (act) this.act(act);
    });
    root.querySelector("input").addEventListener("change", (event) => {
      const down = Number(event.target.value);
      if (this.chosen !== null && Number.isFinite(down)) this.shiftTo(this.chosen, down, 0);
    });
    new ResizeObserver(() => { if (this.view.fitted) this.fit(); else this.paint(); }).observe(stage);
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".match-table");
  if (!tables.has(root)) tables.set(root, new Table(root));
  tables.get(root).take(component);
}
