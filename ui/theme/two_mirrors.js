const windows = new WeakMap();
const LEAST_RADIUS = 10;
const SLOW_MS = 30, COARSEST = 0.4;
const DEGREE = Math.PI / 180;

const between = (low, value, high) => Math.min(high, Math.max(low, value));

const VERTEX = `#version 300 es
in vec2 corner;
void main() { gl_Position = vec4(corner, 0.0, 1.0); }`;

/** Each pixel of the rosette asks for its place on the leaf, as in vision/wedge.py. */
const FRAGMENT = `#version 300 es
precision highp float;
uniform sampler2D leaves;
uniform vec2 atlas, tip, middle;
uniform vec4 frames[16];
uniform vec2 shifts[16];
uniform int count;
uniform float scale, pieces, turn, radius, perMm, startsTurned, booked;
out vec4 colour;
const vec3 PAPER = vec3(0.969, 0.949, 0.910);
void main() {
  vec2 place = vec2(gl_FragCoord.x - middle.x, middle.y - gl_FragCoord.y) / scale;
  float away = length(place);
  float part = 6.283185307179586 / pieces;
  float clockwise = atan(place.x, -place.y);
  float piece = floor(clockwise / part + 0.5);
  float within = clockwise - piece * part;
  piece = mod(piece, pieces);
  bool turned = booked > 0.5 && mod(piece + startsTurned, 2.0) > 0.5;
  float angle = turn + (turned ? -within : within);
  int leaf = int(piece + 0.5) % count;
  vec2 at = tip + shifts[leaf] + away * vec2(cos(angle), sin(angle));
  vec4 frame = frames[leaf];
  vec2 px = at * perMm;
  vec3 seen;
  if (px.x < 0.5 || px.y < 0.5 || px.x > frame.z - 0.5 || px.y > frame.w - 0.5) {
    float stripe = mod(gl_FragCoord.x + gl_FragCoord.y, 14.0);
    seen = stripe < 3.0 ? vec3(0.55, 0.52, 0.48) : vec3(0.90, 0.87, 0.82);
  } else {
    seen = textureLod(leaves, (frame.xy + px) / atlas, max(0.0, log2(perMm / scale))).rgb;
  }
  float rim = clamp((radius - away) * scale + 0.5, 0.0, 1.0);
  colour = vec4(mix(PAPER, seen, rim), 1.0);
}`;

/** Paints by the graphics card; throws where there is none. */
class CardPainter {
  constructor(canvas, image, data) {
    const gl = canvas.getContext("webgl2", { preserveDrawingBuffer: true, antialias: false });
    if (!gl) throw new Error("no WebGL 2");
    const program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    gl.useProgram(program);
    gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array([-1, -1, 3, -1, -1, 3]), gl.STATIC_DRAW);
    const corner = gl.getAttribLocation(program, "corner");
    gl.enableVertexAttribArray(corner);
    gl.vertexAttribPointer(corner, 2, gl.FLOAT, false, 0, 0);
    if (Math.max(image.width, image.height) > gl.getParameter(gl.MAX_TEXTURE_SIZE)) {
      throw new Error("the picture is too large for this graphics card");
    }
    gl.bindTexture(gl.TEXTURE_2D, gl.createTexture());
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, gl.RGBA, gl.UNSIGNED_BYTE, image);
    gl.generateMipmap(gl.TEXTURE_2D);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.LINEAR_MIPMAP_LINEAR);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
    Object.assign(this, { gl, program, canvas, kind: "card" });
    this.size = [image.width, image.height];
  }

  paint(wedge, data, scale) {
    const { gl, program, canvas } = this;
    const to = (name) => gl.getUniformLocation(program, name);
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.uniform2f(to("atlas"), ...this.size);
    gl.uniform2f(to("tip"), wedge.x, wedge.y);
    gl.uniform2f(to("middle"), canvas.width / 2, canvas.height / 2);
    gl.uniform4fv(to("frames"), new Float32Array(data.frames.flat()));
    gl.uniform2fv(to("shifts"), new Float32Array(data.shifts.flat()));
    gl.uniform1i(to("count"), data.frames.length);
    const numbers = {
      scale, pieces: wedge.pieces, turn: wedge.turn * DEGREE, radius: wedge.radius,
      perMm: data.perMm, startsTurned: wedge.startsTurned ? 1 : 0, booked: wedge.booked ? 1 : 0,
    };
    for (const [name, value] of Object.entries(numbers)) gl.uniform1f(to(name), value);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
  }
}

/** Paints piece by piece where there is no graphics card. */
class PlainPainter {
  constructor(canvas, image) {
    this.context = canvas.getContext("2d");
    Object.assign(this, { canvas, image, kind: "plain" });
  }

  paint(wedge, data, scale) {
    const { context, canvas, image } = this;
    const part = 2 * Math.PI / wedge.pieces;
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.fillStyle = "#f7f2e8";
    context.fillRect(0, 0, canvas.width, canvas.height);
    for (let piece = 0; piece < wedge.pieces; piece += 1) {
      const turned = wedge.booked && (piece % 2 === 1) !== wedge.startsTurned;
      const leaf = piece % data.frames.length;
      const [left, top, width, height] = data.frames[leaf];
      const [right, down] = data.shifts[leaf];
      context.save();
      context.translate(canvas.width / 2, canvas.height / 2);
      context.rotate(piece * part - Math.PI / 2);
      context.scale(scale, scale);
      context.beginPath();
      context.moveTo(0, 0);
      context.arc(0, 0, wedge.radius, -part / 2 - 0.002, part / 2 + 0.002);
      context.closePath();
      context.clip();
      context.fillStyle = "#e5ded1";
      context.fillRect(-wedge.radius, -wedge.radius, 2 * wedge.radius, 2 * wedge.radius);
      if (turned) context.scale(1, -1);
      context.rotate(-wedge.turn * DEGREE);
      context.translate(-(wedge.x + right), -(wedge.y + down));
      context.drawImage(image, left, top, width, height, 0, 0, width / data.perMm, height / data.perMm);
      context.restore();
    }
  }
}

class TwoMirrors {
  constructor(root) {
    this.root = root;
    this.stage = root.querySelector(".stage");
    this.img = root.querySelector("img");
    this.svg = root.querySelector("svg");
    this.paper = root.querySelector("canvas");
    this.pan = 0;
    this.listen();
  }

  take(component) {
    this.tell = component.setTriggerValue;
    const data = component.data;
    const isNew = this.version !== data.version;
    this.data = data;
    if (!isNew) { this.repaint(); return; }
    this.version = data.version;
    this.wedge = { ...data.wedge };
    this.ready = false;
    this.img.onload = () => { this.begin(); };
    this.img.src = `data:image/jpeg;base64,${data.picture}`;
    this.img.alt = `Leaf ${data.names[0]}, with the two mirrors standing on it`;
    this.says("Drag the wedge over the leaf. Drag its round grip to turn it and to set its length.");
  }

  says(words) { this.root.querySelector(".said").textContent = words; }

  begin() {
    const fresh = this.paper.cloneNode();
    this.paper.replaceWith(fresh);
    this.paper = fresh;
    try {
      if (this.data.plain) throw new Error("asked for");
      this.painter = new CardPainter(this.paper, this.img, this.data);
    } catch {
      const other = this.paper.cloneNode();
      this.paper.replaceWith(other);
      this.paper = other;
      this.painter = new PlainPainter(this.paper, this.img);
    }
    this.root.dataset.painter = this.painter.kind;
    this.ready = true;
    this.fit();
    this.show();
  }

  // ---- the leaf's window: millimetres to pixels of the stage

  get leafSize() {
    const [, , width, height] = this.data.frames[0];
    return [width / this.data.perMm, height / this.data.perMm];
  }
  toStage(x, y) { return [x * this.zoom + this.left, y * this.zoom + this.pan]; }
  toLeaf([x, y]) { return [(x - this.left) / this.zoom, (y - this.pan) / this.zoom]; }

  fit() {
    if (!this.ready || !this.stage.clientWidth) return;
    const [width, length] = this.leafSize;
    const [wide, high] = [this.stage.clientWidth, this.stage.clientHeight];
    this.zoom = Math.max(Math.min((wide - 24) / width, 3), (high - 24) / length);
    this.left = (wide - width * this.zoom) / 2;
    this.sharpen(Math.min(window.devicePixelRatio || 1, 2));
    this.repaint();
  }

  /** Pixels of the rosette for each of the screen: fewer while a slow machine is kept busy. */
  sharpen(sharp) {
    const side = Math.max(1, Math.round(this.paper.clientWidth * sharp));
    this.sharp = sharp;
    this.pace = 0;
    if (this.paper.width === side) return;
    this.paper.width = side;
    this.paper.height = side;
  }

  keepPace(now) {
    const took = now - this.last;
    this.last = now;
    if (!this.held || took > 400) return;
    this.pace = this.pace ? 0.7 * this.pace + 0.3 * took : took;
    if (this.pace > SLOW_MS && this.sharp > COARSEST) this.sharpen(Math.max(COARSEST, this.sharp * 0.7));
  }

  /** Bring the wedge into the window. */
  show() {
    if (!this.ready) return;
    const { y, turn, radius } = this.wedge;
    const middle = y + radius / 2 * Math.sin(turn * DEGREE);
    this.slide(this.stage.clientHeight / 2 - middle * this.zoom);
    this.repaint();
  }
  slide(to) {
    const spare = this.stage.clientHeight - this.leafSize[1] * this.zoom;
    this.pan = spare > 0 ? spare / 2 : between(spare - 12, to, 12);
  }

  repaint() {
    if (!this.ready || this.waiting) return;
    this.waiting = requestAnimationFrame((now) => {
      this.waiting = null;
      this.keepPace(now);
      this.paint();
    });
  }

  paint() {
    if (!this.zoom) return;
    const { wedge, data } = this;
    const [left, top] = data.frames[0];
    const share = this.zoom / data.perMm;
    this.img.style.width = `${this.img.naturalWidth * share}px`;
    this.img.style.transform = `translate(${this.left - left * share}px, ${this.pan - top * share}px)`;
    const [, , width, height] = data.frames[0];
    this.img.style.clipPath = `inset(${top * share}px ${(this.img.naturalWidth - left - width) * share}px `
      + `${(this.img.naturalHeight - top - height) * share}px ${left * share}px)`;
    this.paintWedge();
    const scale = (this.paper.width / 2 - 2) / wedge.radius;
    this.painter.paint(wedge, data, scale);
    this.root.dataset.frames = Number(this.root.dataset.frames || 0) + 1;
    this.paintTools();
  }

  paintWedge() {
    const { wedge } = this;
    const half = Math.PI / wedge.pieces;
    const [tipX, tipY] = this.toStage(wedge.x, wedge.y);
    const end = (turn, long) => [tipX + long * this.zoom * Math.cos(turn), tipY + long * this.zoom * Math.sin(turn)];
    const turn = wedge.turn * DEGREE;
    const [one, other] = [end(turn - half, wedge.radius), end(turn + half, wedge.radius)];
    const round = wedge.radius * this.zoom;
    const shape = `M${tipX},${tipY}L${one}A${round},${round} 0 0 1 ${other}Z`;
    const { clientWidth, clientHeight } = this.stage;
    this.svg.querySelector(".shade").setAttribute("d", `M0,0H${clientWidth}V${clientHeight}H0Z${shape}`);
    this.svg.querySelector(".wedge").setAttribute("d", shape);
    for (const [name, to] of [["first", one], ["second", other]]) {
      this.svg.querySelector(`.${name}`).setAttribute("d", `M${tipX},${tipY}L${to}`);
    }
    const [gripX, gripY] = end(turn, wedge.radius);
    this.svg.querySelector(".grip").setAttribute("transform",
      `translate(${between(14, gripX, clientWidth - 14)} ${between(14, gripY, clientHeight - 14)})`);
    this.svg.querySelector(".tip").setAttribute("transform", `translate(${tipX} ${tipY})`);
  }

  paintTools() {
    const { wedge } = this;
    for (const button of this.root.querySelectorAll("[data-pieces]")) {
      button.setAttribute("aria-pressed", Number(button.dataset.pieces) === wedge.pieces);
    }
    const words = `${wedge.pieces} wedges of ${(360 / wedge.pieces).toFixed(1)}°, `
      + `${(2 * wedge.radius).toFixed(0)} mm across; tip ${wedge.x.toFixed(0)} mm from the left edge, `
      + `${wedge.y.toFixed(0)} mm from the top end`;
    this.root.querySelector(".numbers").textContent = words;
    this.paper.setAttribute("aria-label", `Rosette: ${words}`);
  }

  // ---- changing the wedge

  set(change) {
    const next = { ...this.wedge, ...change };
    const [width, length] = this.leafSize;
    next.x = between(-width, next.x, 2 * width);
    next.y = between(-200, next.y, length + 200);
    next.radius = between(LEAST_RADIUS, next.radius, Math.max(width, length, 4 * LEAST_RADIUS));
    next.turn = ((next.turn + 180) % 360 + 360) % 360 - 180;
    this.wedge = next;
    this.repaint();
  }

  settle() {
    const { x, y, turn, radius, pieces, booked, startsTurned } = this.wedge;
    this.tell("placed", { x, y, turn, radius, pieces, booked, startsTurned });
  }

  /** Wait until the keys are still. */
  settleSoon() {
    clearTimeout(this.later);
    this.later = setTimeout(() => this.settle(), 500);
  }

  // ---- mouse, finger, keyboard

  place(event) {
    const box = this.stage.getBoundingClientRect();
    return [event.clientX - box.left - this.stage.clientLeft, event.clientY - box.top - this.stage.clientTop];
  }

  isOnWedge(at) {
    const { wedge } = this;
    const [x, y] = this.toLeaf(at);
    const [dx, dy] = [x - wedge.x, y - wedge.y];
    const away = Math.hypot(dx, dy);
    if (away * this.zoom < 18) return true;
    const off = Math.atan2(dy, dx) - wedge.turn * DEGREE;
    const round = Math.abs(Math.atan2(Math.sin(off), Math.cos(off)));
    return away <= wedge.radius && round <= Math.PI / wedge.pieces + 6 / (away * this.zoom);
  }

  down(event) {
    if (!this.ready) return;
    const at = this.place(event);
    const grip = event.target.closest?.(".grip");
    this.stage.setPointerCapture(event.pointerId);
    const [x, y] = this.toLeaf(at);
    if (grip) this.held = { kind: "grip" };
    else if (this.isOnWedge(at)) this.held = { kind: "wedge", off: [this.wedge.x - x, this.wedge.y - y] };
    else this.held = { kind: "leaf", from: at[1] - this.pan };
    if (this.held.kind !== "leaf") event.preventDefault();
  }

  drag(event) {
    if (!this.held) return;
    const at = this.place(event);
    const [x, y] = this.toLeaf(at);
    if (this.held.kind === "grip") {
      const [dx, dy] = [x - this.wedge.x, y - this.wedge.y];
      this.set({ turn: Math.atan2(dy, dx) / DEGREE, radius: Math.hypot(dx, dy) });
    } else if (this.held.kind === "wedge") {
      this.set({ x: x + this.held.off[0], y: y + this.held.off[1] });
    } else {
      this.slide(at[1] - this.held.from);
      this.repaint();
    }
  }

  up() {
    if (this.held && this.held.kind !== "leaf") this.settle();
    this.held = null;
    this.fit();
  }

  key(event) {
    const step = event.shiftKey ? 10 : 1;
    const { x, y, turn, radius } = this.wedge;
    const change = {
      ArrowLeft: { x: x - step }, ArrowRight: { x: x + step },
      ArrowUp: { y: y - step }, ArrowDown: { y: y + step },
      "[": { turn: turn - step }, "]": { turn: turn + step },
      "{": { turn: turn - 10 }, "}": { turn: turn + 10 },
      "+": { radius: radius + step }, "=": { radius: radius + step }, "-": { radius: radius - step },
    }[event.key];
    if (!change) return;
    event.preventDefault();
    this.set(change);
    if ("y" in change) this.show();
    this.settleSoon();
  }

  listen() {
    const { stage } = this;
    stage.addEventListener("pointerdown", (event) => this.down(event));
    stage.addEventListener("pointermove", (event) => this.drag(event));
    stage.addEventListener("pointerup", () => this.up());
    stage.addEventListener("pointercancel", () => this.up());
    stage.addEventListener("keydown", (event) => this.key(event));
    stage.addEventListener("wheel", (event) => {
      const before = this.pan;
      this.slide(this.pan - event.deltaY);
      if (this.pan !== before) { event.preventDefault(); this.repaint(); }
    }, { passive: false });
    this.root.querySelector(".tools").addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (!button || !this.ready) return;
      const { turn, radius, startsTurned } = this.wedge;
      const acts = {
        left: () => ({ turn: turn - 1 }), right: () => ({ turn: turn + 1 }),
        larger: () => ({ radius: radius + 5 }), smaller: () => ({ radius: radius - 5 }),
        hand: () => ({ startsTurned: !startsTurned }),
      };
      if (button.dataset.pieces) this.set({ pieces: Number(button.dataset.pieces) });
      else this.set(acts[button.dataset.act]());
      this.settleSoon();
    });
    new ResizeObserver(() => this.fit()).observe(this.root);
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".mirrors");
  if (!windows.has(root)) windows.set(root, new TwoMirrors(root));
  windows.get(root).take(component);
}
