const editors = new WeakMap();
const SVG = "http://www.w3.org/2000/svg";
const NEAREST = 12;

const copy = (points) => points.map((point) => [point[0], point[1]]);
const between = (low, value, high) => Math.min(high, Math.max(low, value));

/** The nearest place on the side from a to b, as a share of it, and its distance. */
function onSide(at, a, b) {
  const dx = b[0] - a[0], dy = b[1] - a[1];
  const long = dx * dx + dy * dy || 1e-9;
  const share = between(0, ((at[0] - a[0]) * dx + (at[1] - a[1]) * dy) / long, 1);
  return [share, Math.hypot(a[0] + share * dx - at[0], a[1] + share * dy - at[1])];
}

class Editor {
  constructor(root) {
    this.root = root;
    this.stage = root.querySelector(".stage");
    this.img = root.querySelector("img");
    this.svg = root.querySelector("svg");
    this.group = root.querySelector(".corners");
    this.view = { scale: 1, x: 0, y: 0, fitted: true };
    this.fingers = new Map();
    this.listen();
  }

  take(component) {
    this.save = component.setTriggerValue;
    const data = component.data;
    if (this.version === data.version) return;
    this.version = data.version;
    this.data = data;
    this.img.onload = () => this.fit();
    this.img.src = `data:image/jpeg;base64,${data.picture}`;
    this.img.alt = `Photograph with the outline of ${data.name}`;
    this.start();
  }

  start() {
    this.points = copy(this.data.outline);
    this.corners = [...this.data.corners];
    this.chosen = null;
    this.moved = false;
    this.said("Drag a corner to the edge of the leaf. Click or tap the line for one more corner.");
    this.paint();
  }

  said(words) { this.root.querySelector(".said").textContent = words; }

  // ---- the view: pixels of the photograph to pixels of the stage

  get zoom() { return this.view.scale; }
  toStage(point) {
    return [(point[0] + 0.5) * this.zoom + this.view.x, (point[1] + 0.5) * this.zoom + this.view.y];
  }
  toPhoto(point) {
    const [width, height] = this.data.size;
    return [between(-0.5, (point[0] - this.view.x) / this.zoom - 0.5, width - 0.5),
      between(-0.5, (point[1] - this.view.y) / this.zoom - 0.5, height - 0.5)];
  }
  whole() {
    const [width, height] = this.data.size;
    return Math.min((this.stage.clientWidth - 24) / width, (this.stage.clientHeight - 24) / height);
  }
  fit() {
    if (!this.data || !this.stage.clientWidth) return;
    const [width, height] = this.data.size;
    const full = (this.stage.clientWidth - 24) * height / width + 24;
    this.stage.style.height = `${Math.max(220, Math.min(full, window.innerHeight * 0.72, 780))}px`;
    const scale = this.whole();
    this.view = {
      scale, fitted: true,
      x: (this.stage.clientWidth - width * scale) / 2,
      y: (this.stage.clientHeight - height * scale) / 2,
    };
    this.paint();
  }
  nearer(factor, x, y) {
    const fitted = this.whole();
    const next = between(fitted * 0.8, this.zoom * factor, fitted * 16);
    const ratio = next / this.zoom;
    this.view = {
      scale: next, fitted: false,
      x: x - (x - this.view.x) * ratio, y: y - (y - this.view.y) * ratio,
    };
    this.paint();
  }

  // ---- painting

  paint() {
    const [width, height] = this.data.size;
    const { x, y } = this.view;
    // While the whole picture shows, one finger and the plain wheel still scroll the page.
    this.stage.style.touchAction = this.view.fitted ? "pan-y" : "none";
    this.img.style.width = `${width * this.zoom}px`;
    this.img.style.height = `${height * this.zoom}px`;
    this.img.style.transform = `translate(${x}px, ${y}px)`;
    const line = `M${this.points.map((point) => this.toStage(point).join(",")).join("L")}Z`;
    for (const name of ["halo", "line", "grip"]) {
      this.root.querySelector(`.${name}`).setAttribute("d", line);
    }
    const frame = `M${x},${y}h${width * this.zoom}v${height * this.zoom}h${-width * this.zoom}Z`;
    this.root.querySelector(".shade").setAttribute("d", frame + line);
    this.paintCorners();
    this.root.classList.toggle("changed", this.moved);
    const button = (act) => this.root.querySelector(`[data-act=${act}]`);
    button("remove").disabled = this.chosen === null || this.corners.length <= 3;
    button("again").disabled = !this.moved;
    button("save").disabled = !this.moved;
  }

  paintCorners() {
    while (this.group.childNodes.length > this.corners.length) this.group.lastChild.remove();
    while (this.group.childNodes.length < this.corners.length) {
      const corner = document.createElementNS(SVG, "g");
      corner.setAttribute("tabindex", "0");
      corner.setAttribute("role", "button");
      for (const [name, radius] of [["reach", 20], ["dot", 7]]) {
        const circle = document.createElementNS(SVG, "circle");
        circle.setAttribute("class", name);
        circle.setAttribute("r", radius);
        corner.append(circle);
      }
      this.group.append(corner);
    }
    this.corners.forEach((index, place) => {
      const corner = this.group.childNodes[place];
      const [x, y] = this.toStage(this.points[index]);
      corner.setAttribute("transform", `translate(${x} ${y})`);
      corner.setAttribute("class", place === this.chosen ? "corner chosen" : "corner");
      corner.setAttribute("aria-label", `Corner ${place + 1} of ${this.corners.length}`);
    });
  }

  // ---- changing the outline

  /** Points from one corner to the next, both left out. */
  run(place) {
    const count = this.points.length;
    const start = this.corners[place];
    const end = this.corners[(place + 1) % this.corners.length];
    const found = [];
    for (let at = (start + 1) % count; at !== end && found.length < count; at = (at + 1) % count) {
      found.push(at);
    }
    return found;
  }

  /** Move a corner; the edge on either side goes along, less and less toward the next corner. */
  move(place, to) {
    const here = this.corners[place];
    const before = (place + this.corners.length - 1) % this.corners.length;
    const by = [to[0] - this.origin[here][0], to[1] - this.origin[here][1]];
    this.points[here] = to;
    for (const [run, back] of [[this.run(place), true], [this.run(before), false]]) {
      const path = back ? [here, ...run] : [this.corners[before], ...run, here];
      if (back) path.push(this.corners[(place + 1) % this.corners.length]);
      const long = [0];
      for (let step = 1; step < path.length; step += 1) {
        const [a, b] = [this.origin[path[step - 1]], this.origin[path[step]]];
        long.push(long[step - 1] + Math.hypot(b[0] - a[0], b[1] - a[1]));
      }
      const total = long[long.length - 1] || 1;
      for (let step = 1; step < path.length - 1; step += 1) {
        const share = back ? 1 - long[step] / total : long[step] / total;
        const from = this.origin[path[step]];
        const [width, height] = this.data.size;
        this.points[path[step]] = [
          between(-0.5, from[0] + share * by[0], width - 0.5),
          between(-0.5, from[1] + share * by[1], height - 0.5)];
      }
    }
    this.moved = true;
    this.paint();
  }

  add(at) {
    const count = this.points.length;
    let best = [Infinity, 0, 0];
    for (let index = 0; index < count; index += 1) {
      const [share, away] = onSide(at, this.points[index], this.points[(index + 1) % count]);
      if (away < best[0]) best = [away, index, share];
    }
    const [, index, share] = best;
    const [a, b] = [this.points[index], this.points[(index + 1) % count]];
    const point = [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])];
    this.points.splice(index + 1, 0, point);
    this.corners = this.corners.map((corner) => (corner > index ? corner + 1 : corner));
    this.corners.push(index + 1);
    this.corners.sort((one, other) => one - other);
    this.chosen = this.corners.indexOf(index + 1);
    this.said("A corner was added. Drag it to the edge of the leaf.");
    this.paint();
    return this.chosen;
  }

  remove() {
    if (this.chosen === null || this.corners.length <= 3) return;
    const before = (this.chosen + this.corners.length - 1) % this.corners.length;
    const gone = new Set([...this.run(before), this.corners[this.chosen], ...this.run(this.chosen)]);
    const kept = this.points.map((_, index) => index).filter((index) => !gone.has(index));
    this.corners.splice(this.chosen, 1);
    this.corners = this.corners.map((corner) => kept.indexOf(corner));
    this.points = kept.map((index) => this.points[index]);
    this.chosen = null;
    this.moved = true;
    this.said("The corner was taken away; the edge there is straight now.");
    this.paint();
  }

  // ---- mouse, finger, keyboard

  place(event) {
    const box = this.stage.getBoundingClientRect();
    return [event.clientX - box.left - this.stage.clientLeft,
      event.clientY - box.top - this.stage.clientTop];
  }

  /** The corner under a pointer: the nearest in reach, as reaches may overlap. */
  cornerAt(at) {
    let best = [20, null];
    this.corners.forEach((index, place) => {
      const [x, y] = this.toStage(this.points[index]);
      const away = Math.hypot(x - at[0], y - at[1]);
      if (away <= best[0]) best = [away, place];
    });
    return best[1];
  }

  down(event) {
    const at = this.place(event);
    this.stage.setPointerCapture(event.pointerId);
    this.fingers.set(event.pointerId, at);
    if (this.fingers.size > 1) { this.held = null; return; }
    const corner = this.cornerAt(at);
    this.held = null;
    this.pressed = at;
    if (corner === null) return;
    event.preventDefault();
    this.hold(corner, at);
  }

  hold(corner, at) {
    const [x, y] = this.toStage(this.points[this.corners[corner]]);
    this.chosen = corner;
    this.held = { corner, off: [x - at[0], y - at[1]] };
    this.origin = copy(this.points);
    this.group.childNodes[corner].focus({ preventScroll: true });
    this.paint();
  }

  drag(event) {
    const before = this.fingers.get(event.pointerId);
    if (!before) return;
    const now = this.place(event);
    this.fingers.set(event.pointerId, now);
    if (this.fingers.size === 2) {
      const other = [...this.fingers].find(([id]) => id !== event.pointerId)[1];
      const apart = (point) => Math.hypot(point[0] - other[0], point[1] - other[1]) || 1;
      this.nearer(apart(now) / apart(before), (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
    } else if (this.held) {
      const { corner, off } = this.held;
      this.move(corner, this.toPhoto([now[0] + off[0], now[1] + off[1]]));
    } else if (!this.view.fitted) {
      this.view.x += now[0] - before[0];
      this.view.y += now[1] - before[1];
      this.paint();
    }
  }

  up(event) {
    const at = this.fingers.get(event.pointerId);
    this.fingers.delete(event.pointerId);
    const still = at && this.pressed && !this.held && event.type === "pointerup"
      && Math.hypot(at[0] - this.pressed[0], at[1] - this.pressed[1]) < 4;
    this.held = null;
    this.pressed = null;
    if (!still) return;
    const photo = [(at[0] - this.view.x) / this.zoom - 0.5, (at[1] - this.view.y) / this.zoom - 0.5];
    const count = this.points.length;
    const away = Math.min(...this.points.map(
      (point, index) => onSide(photo, point, this.points[(index + 1) % count])[1]));
    if (away * this.zoom <= NEAREST) this.add(photo);
    else { this.chosen = null; this.paint(); }
  }

  key(event) {
    const corner = [...this.group.childNodes].indexOf(event.target);
    if (corner < 0) return;
    if (event.key === "Delete" || event.key === "Backspace") {
      this.chosen = corner;
      this.remove();
      event.preventDefault();
      return;
    }
    const step = (event.shiftKey ? 10 : 1) / this.zoom;
    const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step],
      ArrowDown: [0, step] }[event.key];
    if (!by) return;
    event.preventDefault();
    this.chosen = corner;
    this.origin = copy(this.points);
    const [x, y] = this.toStage(this.points[this.corners[corner]]);
    this.move(corner, this.toPhoto([x + by[0] * this.zoom, y + by[1] * this.zoom]));
  }

  listen() {
    const { stage } = this;
    stage.addEventListener("pointerdown", (event) => this.down(event));
    stage.addEventListener("pointermove", (event) => this.drag(event));
    stage.addEventListener("pointerup", (event) => this.up(event));
    stage.addEventListener("pointercancel", (event) => this.up(event));
    stage.addEventListener("keydown", (event) => this.key(event));
    stage.addEventListener("focusin", (event) => {
      const corner = [...this.group.childNodes].indexOf(event.target);
      if (corner >= 0 && corner !== this.chosen) { this.chosen = corner; this.paint(); }
    });
    // A finger on a corner moves the corner, not the page.
    stage.addEventListener("touchmove", (event) => {
      if (this.held) event.preventDefault();
    }, { passive: false });
    stage.addEventListener("wheel", (event) => {
      if (this.view.fitted && !event.ctrlKey) return;
      event.preventDefault();
      this.nearer(Math.exp(-event.deltaY * 0.0015), ...this.place(event));
    }, { passive: false });
    this.root.querySelector(".tools").addEventListener("click", (event) => {
      const middle = [stage.clientWidth / 2, stage.clientHeight / 2];
      const acts = {
        in: () => this.nearer(1.6, ...middle), out: () => this.nearer(1 / 1.6, ...middle),
        fit: () => this.fit(), remove: () => this.remove(), again: () => this.start(),
        save: () => {
          this.said("Sent to be measured. What came of it stands above.");
          this.root.querySelector("[data-act=save]").disabled = true;
          this.save("saved", this.points);
        },
      };
      acts[event.target.dataset.act]?.();
    });
    new ResizeObserver(() => { if (this.view.fitted) this.fit(); }).observe(stage);
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".editor");
  if (!editors.has(root)) editors.set(root, new Editor(root));
  editors.get(root).take(component);
}
