// A match under a lamp that is dragged. The arithmetic is that of vision/relight.py.
const views = new WeakMap();
const SVG = "http://www.w3.org/2000/svg";
const LEAST_APART = 1e-3;
const NEAR_MARK_PX = 12;
const CARRIED = { yes: 0, flat: 1, open: 2 };
const REST_MS = 160;
const SLOW_MS = 40;

const between = (low, value, high) => Math.min(high, Math.max(low, value));
const refract = (sine, index) => Math.asin(sine / index);

/** The share of light that passes the surface, unpolarised. */
function transmit(sine, index) {
  const outside = Math.sqrt(1 - sine * sine);
  const inside = Math.sqrt(1 - (sine / index) ** 2);
  const across = (outside - index * inside) / (outside + index * inside);
  const along = (index * outside - inside) / (index * outside + inside);
  return 1 - (across * across + along * along) / 2;
}

/** Refracted lamp and eye angle and light passed at a place along a leaf (0 to 1). */
function anglesAt(stood, place, index) {
  const [foot, lampAlong, lampAcross, lampHeight, eyeHeight, sign] = stood;
  const from = place - foot;
  const along = lampAlong - from;
  const lamp = sign * along / Math.hypot(along, lampAcross, lampHeight);
  const eye = -sign * from / Math.hypot(from, eyeHeight);
  return [refract(lamp, index), refract(eye, index),
    transmit(Math.abs(lamp), index) * transmit(Math.abs(eye), index)];
}

/** The first photograph's share in the blend. */
function shareOfFirst(wanted, first, second) {
  const apart = first[0] + first[1] - second[0] - second[1];
  if (Math.abs(apart) <= LEAST_APART) return 0.5;
  return between(0, (wanted[0] + wanted[1] - second[0] - second[1]) / apart, 1);
}

// ---- WebGL: the whole arithmetic for every pixel

const VERTEX = `#version 300 es
in vec2 corner;
uniform vec4 box;
uniform vec2 size;
out vec2 at;
void main() {
  at = corner * box.zw;
  vec2 place = (box.xy + at) / size * 2.0 - 1.0;
  gl_Position = vec4(place.x, -place.y, 0.0, 1.0);
}`;

const FRAGMENT = `#version 300 es
precision highp float;
precision highp int;
in vec2 at;
out vec4 sent;
uniform sampler2D first, second, figure;
uniform vec4 box;
uniform vec2 ranges;
uniform vec3 paper;
uniform float strength, width, index, beyond;
uniform float stood[18];

float passed(float sine) {
  float outside = sqrt(1.0 - sine * sine);
  float inside = sqrt(1.0 - sine * sine / (index * index));
  float across = (outside - index * inside) / (outside + index * inside);
  float along = (index * outside - inside) / (index * outside + inside);
  return 1.0 - (across * across + along * along) / 2.0;
}
vec3 angles(int from, float place) {
  float off = place - stood[from];
  float along = stood[from + 1] - off;
  float lamp = stood[from + 5] * along
    / sqrt(along * along + stood[from + 2] * stood[from + 2] + stood[from + 3] * stood[from + 3]);
  float eye = -stood[from + 5] * off / sqrt(off * off + stood[from + 4] * stood[from + 4]);
  return vec3(asin(lamp / index), asin(eye / index), passed(lamp) * passed(eye));
}
float response(vec3 seen, float slope, float wide) {
  float about = seen.x + seen.y + 2.0 * slope;
  float turn = cos((seen.y - seen.x) / 2.0);
  float lobe = exp(-about * about / (2.0 * wide * wide)) / (turn * turn);
  return seen.z * (1.0 + strength * width / wide * lobe);
}
vec3 linear(vec3 coded) {
  return mix(coded / 12.92, pow((coded + 0.055) / 1.055, vec3(2.4)), step(0.04045, coded));
}
vec3 coded(vec3 light) {
  light = clamp(light, 0.0, 1.0);
  return mix(light * 12.92, 1.055 * pow(max(light, 1e-9), vec3(1.0 / 2.4)) - 0.055,
    step(0.0031308, light));
}
void main() {
  ivec2 pixel = ivec2(clamp(at, vec2(0.0), box.zw - 0.5));
  vec3 leaf = texelFetch(figure, pixel, 0).rgb;
  float slope = (leaf.r * 2.0 - 1.0) * ranges.x;
  float spread = leaf.g * ranges.y;
  float wide = sqrt(width * width + 4.0 * spread * spread);
  float place = (float(pixel.y) + 0.5) / box.w;
  vec3 wanted = angles(0, place), one = angles(6, place), other = angles(12, place);
  float apart = one.x + one.y - other.x - other.y;
  float share = abs(apart) > ${LEAST_APART}
    ? clamp((wanted.x + wanted.y - other.x - other.y) / apart, 0.0, 1.0) : 0.5;
  float now = response(wanted, slope, wide);
  vec3 light = share * linear(texelFetch(first, pixel, 0).rgb) * now / response(one, slope, wide)
    + (1.0 - share) * linear(texelFetch(second, pixel, 0).rgb) * now / response(other, slope, wide);
  vec3 colour = coded(light);
  if (beyond > 0.5) {
    float grey = dot(colour, vec3(0.2126, 0.7152, 0.0722));
    vec2 dot_ = box.xy + at;
    float line = step(mod(dot_.x + dot_.y, 16.0), 3.0);
    colour = mix(mix(vec3(grey), vec3(0.8), 0.45), vec3(0.36), 0.55 * line);
  }
  sent = vec4(mix(paper, colour, leaf.b), 1.0);
}`;

class GlPainter {
  static for(canvas, data) {
    const gl = canvas.getContext("webgl2", {
      alpha: false, antialias: false, depth: false, preserveDrawingBuffer: true });
    return gl && new GlPainter(gl, data);
  }

  constructor(gl, data) {
    this.gl = gl;
    this.data = data;
    this.name = "WebGL";
    const program = gl.createProgram();
    for (const [kind, source] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, source);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS)) {
      throw new Error(gl.getProgramInfoLog(program));
    }
    gl.useProgram(program);
    this.at = (name) => gl.getUniformLocation(program, name);
    this.places = Object.fromEntries(["box", "size", "ranges", "paper", "strength", "width",
      "index", "beyond", "stood"].map((name) => [name, this.at(name)]));
    gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array([0, 0, 1, 0, 0, 1, 1, 1]), gl.STATIC_DRAW);
    const corner = gl.getAttribLocation(program, "corner");
    gl.enableVertexAttribArray(corner);
    gl.vertexAttribPointer(corner, 2, gl.FLOAT, false, 0, 0);
    ["first", "second", "figure"].forEach((name, unit) => gl.uniform1i(this.at(name), unit));
    gl.uniform2fv(this.places.size, data.size);
    gl.uniform2fv(this.places.ranges, data.ranges);
    gl.uniform3fv(this.places.paper, data.paper.map((level) => level / 255));
    gl.uniform1f(this.places.index, data.index);
    gl.viewport(0, 0, ...data.size);
    this.textures = data.leaves.map((leaf) => leaf.images.map((image) => this.texture(image)));
  }

  texture(image) {
    const { gl } = this;
    const texture = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, texture);
    gl.pixelStorei(gl.UNPACK_COLORSPACE_CONVERSION_WEBGL, gl.NONE);
    gl.pixelStorei(gl.UNPACK_PREMULTIPLY_ALPHA_WEBGL, false);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGB8, gl.RGB, gl.UNSIGNED_BYTE, image);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.NEAREST);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.NEAREST);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
    return texture;
  }

  paint(stoodOver, beyond) {
    const { gl, places } = this;
    gl.clearColor(...this.data.paper.map((level) => level / 255), 1);
    gl.clear(gl.COLOR_BUFFER_BIT);
    gl.uniform1f(places.beyond, beyond ? 1 : 0);
    this.data.leaves.forEach((leaf, index) => {
      this.textures[index].forEach((texture, unit) => {
        gl.activeTexture(gl.TEXTURE0 + unit);
        gl.bindTexture(gl.TEXTURE_2D, texture);
      });
      gl.uniform4fv(places.box, leaf.box);
      gl.uniform1f(places.strength, leaf.strength);
      gl.uniform1f(places.width, leaf.width);
      gl.uniform1fv(places.stood, [...stoodOver(leaf), ...leaf.seen[0], ...leaf.seen[1]]);
      gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4);
    });
    return true;
  }

  finish() { this.gl.readPixels(0, 0, 1, 1, this.gl.RGBA, this.gl.UNSIGNED_BYTE, new Uint8Array(4)); }
}

// ---- Canvas: the same on the processor, coarser while the lamp moves

const TO_LIGHT = Float32Array.from({ length: 256 }, (_, level) => {
  const coded = level / 255;
  return coded <= 0.04045 ? coded / 12.92 : ((coded + 0.055) / 1.055) ** 2.4;
});
const STEPS = 16383;
const TO_CODED = Uint8ClampedArray.from({ length: STEPS + 1 }, (_, step) => {
  const light = step / STEPS;
  return 255 * (light <= 0.0031308 ? light * 12.92 : 1.055 * light ** (1 / 2.4) - 0.055);
});

class CanvasPainter {
  constructor(canvas, data) {
    this.name = "canvas";
    this.data = data;
    this.to = canvas.getContext("2d", { alpha: false });
    this.fine = this.prepare(1);
    this.coarse = this.prepare(data.size[0] * data.size[1] > 150_000 ? 2 : 1);
  }

  /** Everything that does not change with the lamp, for every so-many-th pixel. */
  prepare(step) {
    const { data } = this;
    const width = Math.ceil(data.size[0] / step), height = Math.ceil(data.size[1] / step);
    const canvas = new OffscreenCanvas(width, height);
    const to = canvas.getContext("2d", { alpha: false });
    const picture = to.createImageData(width, height);
    for (let at = 0; at < picture.data.length; at += 4) {
      picture.data.set([...data.paper, 255], at);
    }
    const leaves = data.leaves.map((leaf) => this.prepareLeaf(leaf, step));
    return { step, canvas, to, picture, leaves };
  }

  prepareLeaf(leaf, step) {
    const [left, top, columns, rows] = leaf.box;
    const [first, second, figure] = leaf.images.map((image) => {
      const own = new OffscreenCanvas(columns, rows);
      const to = own.getContext("2d", { willReadFrequently: true, colorSpace: "srgb" });
      to.drawImage(image, 0, 0);
      return to.getImageData(0, 0, columns, rows).data;
    });
    const firstX = Math.ceil(left / step), lastX = Math.ceil((left + columns) / step);
    const firstY = Math.ceil(top / step), lastY = Math.ceil((top + rows) / step);
    const count = (lastX - firstX) * (lastY - firstY);
    const made = { firstX, lastX, firstY, lastY, wood: new Float32Array(count * 6),
      slope: new Float32Array(count), fall: new Float32Array(count),
      peak: new Float32Array(count), cover: new Float32Array(count), places: [] };
    let at = 0;
    for (let y = firstY; y < lastY; y += 1) {
      const row = y * step - top;
      const place = (row + 0.5) / rows;
      made.places.push(place);
      const seen = leaf.seen.map((stood) => anglesAt(stood, place, this.data.index));
      for (let x = firstX; x < lastX; x += 1, at += 1) {
        const from = 4 * (row * columns + x * step - left);
        const slope = (figure[from] / 255 * 2 - 1) * this.data.ranges[0];
        const spread = figure[from + 1] / 255 * this.data.ranges[1];
        const wide = Math.sqrt(leaf.width ** 2 + 4 * spread ** 2);
        made.slope[at] = 2 * slope;
        made.fall[at] = -1 / (2 * wide * wide);
        made.peak[at] = leaf.strength * leaf.width / wide;
        made.cover[at] = figure[from + 2] / 255;
        [first, second].forEach((picture, which) => {
          const sent = this.sent(made, at, seen[which]);
          for (let channel = 0; channel < 3; channel += 1) {
            made.wood[6 * at + 3 * which + channel] = TO_LIGHT[picture[from + channel]] / sent;
          }
        });
      }
    }
    return made;
  }

  sent(made, at, [lamp, eye, passed]) {
    const about = lamp + eye + made.slope[at];
    const turn = Math.cos((eye - lamp) / 2);
    return passed * (1 + made.peak[at] * Math.exp(about * about * made.fall[at]) / (turn * turn));
  }

  paint(stoodOver, beyond, moving) {
    const made = moving ? this.coarse : this.fine;
    this.data.leaves.forEach((leaf, index) =>
      this.paintLeaf(made, made.leaves[index], leaf, stoodOver(leaf), beyond));
    made.to.putImageData(made.picture, 0, 0);
    this.to.imageSmoothingEnabled = made.step > 1;
    this.to.drawImage(made.canvas, 0, 0, made.canvas.width * made.step,
      made.canvas.height * made.step);
    return made.step === 1;
  }

  paintLeaf(made, leaf, whole, stood, beyond) {
    const { data: out, width } = made.picture;
    const { wood, slope, fall, peak, cover } = leaf;
    const { paper, index } = this.data;
    let at = 0;
    for (let y = leaf.firstY; y < leaf.lastY; y += 1) {
      const place = leaf.places[y - leaf.firstY];
      const wanted = anglesAt(stood, place, index);
      const share = shareOfFirst(wanted, anglesAt(whole.seen[0], place, index),
        anglesAt(whole.seen[1], place, index));
      const rest = 1 - share;
      const half = wanted[0] + wanted[1];
      const raise = 1 / Math.cos((wanted[1] - wanted[0]) / 2) ** 2;
      const passed = wanted[2] * STEPS;
      let to = 4 * (y * width + leaf.firstX);
      for (let x = leaf.firstX; x < leaf.lastX; x += 1, at += 1, to += 4) {
        const about = half + slope[at];
        const sent = passed * (1 + peak[at] * raise * Math.exp(about * about * fall[at]));
        const from = 6 * at;
        for (let channel = 0; channel < 3; channel += 1) {
          const light = sent * (share * wood[from + channel] + rest * wood[from + 3 + channel]);
          out[to + channel] = TO_CODED[light > STEPS ? STEPS : (light + 0.5) | 0];
        }
        if (beyond) this.greyOut(out, to, x * made.step + y * made.step);
        if (cover[at] < 1) {
          for (let channel = 0; channel < 3; channel += 1) {
            out[to + channel] = paper[channel] + (out[to + channel] - paper[channel]) * cover[at];
          }
        }
      }
    }
  }

  greyOut(out, to, diagonal) {
    const grey = 0.2126 * out[to] + 0.7152 * out[to + 1] + 0.0722 * out[to + 2];
    const pale = 0.55 * grey + 0.45 * 204;
    const level = diagonal % 16 <= 3 ? 0.45 * pale + 0.55 * 92 : pale;
    out[to] = out[to + 1] = out[to + 2] = level;
  }

  finish() { this.to.getImageData(0, 0, 1, 1); }
}

// ---- the side view, the words, the hand on the lamp

class RelitView {
  constructor(root) {
    this.root = root;
    root.relit = this;
    this.find = (name) => root.querySelector(name);
    this.svg = this.find(".side");
    this.listen();
  }

  async take(data) {
    if (this.version === data.version) return;
    this.version = data.version;
    this.root.dataset.ready = "";
    for (const leaf of data.leaves) {
      leaf.images = await Promise.all([
        ...leaf.pictures.map((file) => opened(file, "image/jpeg")),
        opened(leaf.figure, "image/png")]);
    }
    if (this.version !== data.version) return;
    this.data = data;
    this.freshCanvas();
    this.drawSide();
    const mark = data.marks[0];
    this.move(mark.along, mark.height);
  }

  freshCanvas(evenSlow = false) {
    const before = this.find("canvas");
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = this.data.size;
    canvas.style.aspectRatio = `${canvas.width} / ${canvas.height}`;
    canvas.setAttribute("role", "img");
    before.replaceWith(canvas);
    this.painter = null;
    try { this.painter = GlPainter.for(canvas, this.data); } catch (error) { console.warn(error); }
    if (!this.painter || (!evenSlow && this.isSlow())) this.useCanvas();
    else canvas.addEventListener("webglcontextlost", () => this.useCanvas());
    this.root.dataset.painter = this.painter.name;
    if (this.lamp) this.ask();
  }

  /** Without a graphics card WebGL is drawn by the processor, slower than the canvas is. */
  isSlow() {
    const stood = (leaf) => leaf.seen[0];
    let took = 0;
    for (let frame = 0; frame < 2; frame += 1) {
      const start = performance.now();
      this.painter.paint(stood, false);
      this.painter.finish();
      took = performance.now() - start;
    }
    return took > SLOW_MS;
  }

  /** A canvas that once gave a WebGL context never gives another kind: take a new one. */
  useCanvas() {
    const canvas = this.find("canvas").cloneNode();
    this.find("canvas").replaceWith(canvas);
    this.painter = new CanvasPainter(canvas, this.data);
    this.root.dataset.painter = this.painter.name;
    if (this.lamp) this.ask();
  }

  // ---- lighting

  stoodOver(leaf) {
    const [eye, eyeHeight] = this.data.eye;
    return [(eye - leaf.top) / leaf.length, (this.lamp[0] - eye) / leaf.length, 0,
      this.lamp[1] / leaf.length, eyeHeight / leaf.length, 1];
  }

  /** Where the lamp stands on the grid of evidence: sd, unseen face's sd, carried or not. */
  evidence() {
    const { along, height, sd, faceSd, carried } = this.data.grid;
    const [x, y] = [[along, this.lamp[0]], [height, this.lamp[1]]].map(
      ([[first, last, count], value]) =>
        between(0, (value - first) / (last - first) * (count - 1), count - 1));
    const read = (values) => {
      const [left, top] = [Math.min(Math.floor(x), along[2] - 2), Math.min(Math.floor(y), height[2] - 2)];
      const value = (row, column) => values[(top + row) * along[2] + left + column];
      const upper = value(0, 0) + (value(0, 1) - value(0, 0)) * (x - left);
      const lower = value(1, 0) + (value(1, 1) - value(1, 0)) * (x - left);
      return upper + (lower - upper) * (y - top);
    };
    const mark = this.data.marks.find((one) =>
      Math.hypot(one.along - this.lamp[0], one.height - this.lamp[1]) < 0.004 * this.data.length);
    const cell = carried[Math.round(y) * along[2] + Math.round(x)];
    return { sd: read(sd), face: read(faceSd), cell: mark ? CARRIED.yes : cell, mark };
  }

  move(along, height) {
    const { grid } = this.data;
    this.lamp = [between(grid.along[0], along, grid.along[1]),
      between(grid.height[0], height, grid.height[1])];
    this.ask();
  }

  ask() {
    clearTimeout(this.rest);
    this.root.dataset.ready = "";
    if (!this.asked) this.asked = requestAnimationFrame(() => { this.asked = 0; this.show(true); });
  }

  show(moving) {
    const told = this.evidence();
    const isWhole = this.paint(told, moving);
    clearTimeout(this.rest);
    if (!isWhole) this.rest = setTimeout(() => this.show(false), REST_MS);
    this.say(told);
    this.placeLamp(told);
    this.root.dataset.along = this.lamp[0];
    this.root.dataset.height = this.lamp[1];
    this.root.dataset.carried = Object.keys(CARRIED)[told.cell];
    this.root.dataset.ready = isWhole ? "yes" : "";
  }

  paint(told, moving) {
    return this.painter.paint((leaf) => this.stoodOver(leaf), told.cell !== CARRIED.yes, moving);
  }

  // ---- words

  say(told) {
    const beyond = told.cell !== CARRIED.yes;
    this.find(".beyond").hidden = !beyond;
    this.root.classList.toggle("guess", beyond);
    this.find(".state").textContent = beyond ? "Beyond the photographs"
      : told.mark ? `As photographed: ${told.mark.words}` : "Between the photographs";
    this.find(".why").textContent = this.why(told);
    this.find(".stands").textContent = this.stands();
    const canvas = this.find("canvas");
    canvas.setAttribute("aria-label", `The match. ${this.stands()} ${this.find(".state").textContent}.`);
    for (const button of this.root.querySelectorAll("[data-mark]")) {
      const here = told.mark && told.mark.name === button.dataset.mark;
      button.setAttribute("aria-pressed", here ? "true" : "false");
    }
  }

  why(told) {
    const sure = `within ± ${(2 * told.sd).toFixed(1)} L*, 95 times in 100`;
    let words;
    if (told.cell === CARRIED.flat) {
      words = "Part of the leaves is met more flatly than in any photograph, where the surface "
        + "itself begins to shine. What you see is a guess, and greyed.";
    } else if (told.cell === CARRIED.open) {
      words = `The photographs leave too much open here: lightness ${sure}. What you see is a `
        + "guess, and greyed.";
    } else if (told.mark) {
      words = "Leaves that lie as they were photographed look here as in their photographs.";
    } else {
      words = `Lightness of each leaf ${sure}.`;
    }
    const { unseen } = this.data;
    if (unseen.length) {
      const several = unseen.length > 1;
      const named = unseen.length > 4 ? `${unseen.length} leaves are`
        : `${several ? "Leaves" : "Leaf"} ${unseen.join(", ")} ${several ? "are" : "is"}`;
      words += ` ${named} shown by the other face, mirrored: the face that lies up was not `
        + `photographed, which may add ± ${(2 * told.face).toFixed(1)} L*.`;
    }
    return words;
  }

  stands() {
    const off = this.lamp[0] - this.data.eye[0];
    const angle = Math.round(Math.atan2(Math.abs(off), this.lamp[1]) * 180 / Math.PI);
    const where = angle < 2 ? "straight above the middle"
      : `${angle}° from upright, toward the ${off < 0 ? "top" : "bottom"} end`;
    return `Lamp ${where}, ${this.far(this.lamp[1])} up.`;
  }

  far(value) {
    if (this.data.unit === "mm") return `${(value / 1000).toFixed(2)} m`;
    return `${(value / this.data.length).toFixed(2)} leaf lengths`;
  }

  // ---- the side view: along the leaf to the right, height upward

  toSide(along, height) {
    const { grid } = this.data;
    return [14 + (along - grid.along[0]) / (grid.along[1] - grid.along[0]) * 372,
      222 - height / grid.height[1] * 206];
  }

  fromSide(x, y) {
    const { grid } = this.data;
    return [grid.along[0] + (x - 14) / 372 * (grid.along[1] - grid.along[0]),
      (222 - y) / 206 * grid.height[1]];
  }

  drawSide() {
    const { data } = this;
    const add = (parent, name, attributes, words) => {
      const made = document.createElementNS(SVG, name);
      for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
      if (words) made.textContent = words;
      parent.append(made);
      return made;
    };
    const scene = this.find(".scene");
    scene.replaceChildren();
    const { along, height, carried } = data.grid;
    const stepX = (along[1] - along[0]) / (along[2] - 1), stepY = (height[1] - height[0]) / (height[2] - 1);
    for (let row = 0; row < height[2]; row += 1) {
      for (let first = 0; first < along[2]; first += 1) {
        if (carried[row * along[2] + first] === CARRIED.yes) continue;
        let last = first;
        while (last + 1 < along[2] && carried[row * along[2] + last + 1] !== CARRIED.yes) last += 1;
        const [x, y] = this.toSide(along[0] + (first - 0.5) * stepX, height[0] + (row + 0.5) * stepY);
        const [right, low] = this.toSide(along[0] + (last + 0.5) * stepX,
          row ? height[0] + (row - 0.5) * stepY : 0);
        add(scene, "rect", { class: "open", x, y, width: right - x, height: low - y });
        first = last;
      }
    }
    const [top, board] = this.toSide(0, 0);
    const [bottom] = this.toSide(data.length, 0);
    add(scene, "path", { class: "board", d: `M4,${board + 5}H396` });
    add(scene, "path", { class: "leaf", d: `M${top},${board + 1}H${bottom}` });
    add(scene, "text", { x: top, y: board + 20, "text-anchor": "start" }, "top end");
    add(scene, "text", { x: bottom, y: board + 20, "text-anchor": "end" }, "bottom end");
    const [eyeX, eyeY] = this.toSide(data.eye[0], Math.min(data.eye[1], data.grid.height[1] * 0.97));
    add(scene, "path", { class: "sight", d: `M${eyeX},${eyeY}V${board}` });
    add(scene, "path", { class: "eye",
      d: `M${eyeX - 11},${eyeY}q11,-11 22,0q-11,11 -22,0Z` });
    add(scene, "circle", { class: "pupil", cx: eyeX, cy: eyeY, r: 3.4 });
    add(scene, "text", { x: eyeX + 15, y: eyeY + 4 }, "eye");
    for (const mark of data.marks) {
      const [x, y] = this.toSide(mark.along, mark.height);
      add(scene, "circle", { class: "mark", cx: x, cy: y, r: 8 });
      add(scene, "path", { class: "mark", d: `M${x - 12},${y}h24M${x},${y - 12}v24` });
      add(scene, "text", { class: "name", x: between(50, x, 350), y: y - 19,
        "text-anchor": "middle" }, `${mark.name} photographed`);
    }
    const box = this.find(".marks");
    box.replaceChildren(...data.marks.map((mark) => {
      const button = document.createElement("button");
      button.type = "button";
      button.dataset.mark = mark.name;
      button.textContent = `Lamp ${mark.name}`;
      return button;
    }));
  }

  placeLamp(told) {
    const [x, y] = this.toSide(...this.lamp);
    const lamp = this.find(".lamp");
    lamp.setAttribute("transform", `translate(${x} ${y})`);
    lamp.setAttribute("aria-valuenow", Math.round(100 * this.lamp[0] / this.data.length));
    lamp.setAttribute("aria-valuetext", `${this.stands()} ${this.find(".state").textContent}`);
    const [top, board] = this.toSide(0, 0);
    const [bottom] = this.toSide(this.data.length, 0);
    this.find(".ray").setAttribute("d", `M${top},${board}L${x},${y}L${bottom},${board}Z`);
    lamp.classList.toggle("at", Boolean(told.mark));
  }

  // ---- mouse, finger, keyboard

  place(event) {
    const box = this.svg.getBoundingClientRect();
    return [(event.clientX - box.left) / box.width * 400, (event.clientY - box.top) / box.height * 248];
  }

  drag(event) {
    const [x, y] = this.place(event);
    const near = this.data.marks.find((mark) => {
      const [markX, markY] = this.toSide(mark.along, mark.height);
      return Math.hypot(x - markX, y - markY) < NEAR_MARK_PX;
    });
    if (near) this.move(near.along, near.height);
    else this.move(...this.fromSide(x, y));
  }

  key(event) {
    const step = (event.shiftKey ? 0.1 : 0.02) * this.data.length;
    const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step],
      ArrowDown: [0, -step] }[event.key];
    if (!by) return;
    event.preventDefault();
    this.move(this.lamp[0] + by[0], this.lamp[1] + by[1]);
  }

  listen() {
    const { svg } = this;
    svg.addEventListener("pointerdown", (event) => {
      if (!this.lamp) return;
      svg.setPointerCapture(event.pointerId);
      this.held = event.pointerId;
      this.find(".lamp").focus({ preventScroll: true });
      this.drag(event);
      event.preventDefault();
    });
    svg.addEventListener("pointermove", (event) => {
      if (this.held === event.pointerId) this.drag(event);
    });
    for (const end of ["pointerup", "pointercancel"]) {
      svg.addEventListener(end, () => { this.held = null; });
    }
    this.find(".lamp").addEventListener("keydown", (event) => this.key(event));
    this.find(".marks").addEventListener("click", (event) => {
      const mark = this.data?.marks.find((one) => one.name === event.target.dataset.mark);
      if (mark) this.move(mark.along, mark.height);
    });
  }
}

async function opened(file, kind) {
  const bytes = Uint8Array.from(atob(file), (letter) => letter.charCodeAt(0));
  return createImageBitmap(new Blob([bytes], { type: kind }),
    { colorSpaceConversion: "none", premultiplyAlpha: "none" });
}

export default function (component) {
  const root = component.parentElement.querySelector(".relit");
  if (!views.has(root)) views.set(root, new RelitView(root));
  views.get(root).take(component.data);
}
