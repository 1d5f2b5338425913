// Two leaves in one frame, shown in turn. Their pictures come laid on each other.
const views = new WeakMap();
const LEAST_MS = 334;
// WCAG 2.2, success criterion 2.3.1 (Three Flashes or Below Threshold, level A): no more than three
// flashes in any one second. A flash is two opposing changes; here each change counts as one, by
// clock, hand or key alike, so that the limit is kept twice over.
const PACES_MS = [2000, 1300, 800, 500, 340];
const FIRST_PACE = 2;
const ZOOMS = [1, 1.5, 2, 3, 4, 6, 8, 12];
const NARROW_PX = 640;
const LEAST_WIDE_PX = 100;
const REST_MS = 350;
const MOST_SHEETS = 6;
const STRIPES = 12;
const PAPER = "rgb(250, 249, 246)";
const STEP = 0.2;

const between = (low, value, high) => Math.min(high, Math.max(low, value));
const still = matchMedia("(prefers-reduced-motion: reduce)");

class Blink {
  constructor(root) {
    this.root = root;
    this.stage = this.part("stage");
    this.canvas = root.querySelector("canvas");
    this.pace = FIRST_PACE;
    this.mode = "blink";
    this.line = 0.5;
    this.sheets = [];
    this.listen();
    new ResizeObserver(() => this.layOut()).observe(root);
    still.addEventListener("change", () => still.matches && this.pause());
  }

  part(name) { return this.root.querySelector(`.${name}`); }

  take(component) {
    this.ask = component.setTriggerValue;
    const { data } = component;
    if (this.version === data.version) return;
    const isOther = this.pair !== data.pair;
    this.version = data.version;
    this.pair = data.pair;
    this.data = data;
    if (isOther) this.begin();
    this.load(data.sheets, data.pair);
  }

  /** Another pair: nothing shown yet, playing unless little motion is asked for. */
  begin() {
    this.pause();
    this.sheets = [];
    this.showing = 0;
    this.zoom = null;
    this.middle = 0.5;
    this.aside = 0.5;
    this.changedAt = performance.now();
    this.part("words").replaceChildren(...this.data.words.map((words) => {
      const line = document.createElement("li");
      line.textContent = words;
      return line;
    }));
    this.said(still.matches
      ? "Your system asks for little motion: nothing moves until you press Play." : "");
  }

  async load(sheets, pair) {
    const loaded = await Promise.all(sheets.map(async (sheet) => {
      const known = this.sheets.find((one) => one.name === sheet.name);
      if (known) return known;
      const images = sheet.pictures.map((picture) => {
        const image = new Image();
        image.src = `data:image/jpeg;base64,${picture}`;
        return image;
      });
      await Promise.all(images.map((image) => image.decode()));
      return { ...sheet, images };
    }));
    if (pair !== this.pair) return;
    const isFirst = !this.sheets.length;
    const all = [...new Set([...this.sheets, ...loaded])];
    const latest = all.length > MOST_SHEETS ? [all[0], ...all.slice(1 - MOST_SHEETS)] : all;
    this.sheets = latest.sort((one, other) => one.perUnit - other.perUnit);
    this.layOut();
    if (isFirst) {
      this.changedAt = performance.now();
      this.root.scrollIntoView({ block: "nearest", behavior: still.matches ? "auto" : "smooth" });
      if (!still.matches) this.play();
    }
    this.root.dataset.ready = pair;
    this.root.dataset.sharpest = this.sheets.at(-1).perUnit;
  }

  said(words) { this.part("said").textContent = words; }

  // ---- which leaf shows

  /** Show the other leaf: the one place where the picture changes over, never too soon. */
  change() {
    const now = performance.now();
    if (now - this.changedAt < LEAST_MS) return false;
    this.changedAt = now;
    this.showing = 1 - this.showing;
    this.paint();
    return true;
  }

  play() {
    if (this.timer || this.mode !== "blink") return;
    const tick = () => {
      if (!this.root.isConnected) { this.pause(); return; }
      this.change();
      this.timer = setTimeout(tick, PACES_MS[this.pace]);
    };
    this.timer = setTimeout(tick, PACES_MS[this.pace]);
    this.paintTools();
  }

  pause() {
    clearTimeout(this.timer);
    this.timer = null;
    if (this.data) this.paintTools();
  }

  toggle() {
    if (this.timer) {
      this.pause();
      this.said(`Paused on ${this.leafName(this.showing)}.`);
    } else {
      this.play();
      this.said(`Blinking: the leaf changes every ${this.paceWords()}.`);
    }
  }

  step() {
    this.pause();
    if (!this.change()) return;
    this.said(this.nowWords());
  }

  setPace(by) {
    this.pace = between(0, this.pace + by, PACES_MS.length - 1);
    if (this.timer) { this.pause(); this.play(); }
    this.paintTools();
    this.said(`A change every ${this.paceWords()}.`);
  }

  paceWords() { return `${(PACES_MS[this.pace] / 1000).toFixed(1)} s`; }

  setMode(mode) {
    this.pause();
    this.mode = mode;
    this.paint();
    this.paintTools();
    this.said(mode === "blink" ? this.nowWords()
      : "Nothing moves here. \u201cShow the other\u201d changes sides.");
  }

  leafName(which) { return `leaf ${this.data.leaves[which].label}`; }

  nowWords() {
    const words = [this.showing, 1 - this.showing].map((which) => this.data.leaves[which].words);
    if (this.mode === "blink") return words[0];
    if (this.mode === "stripes") return `Stripes in turn: ${words[0]}; ${words[1]}`;
    const sides = this.lying ? ["Left of", "right"] : ["Above", "below"];
    return `${sides[0]} the line: ${words[0]}; ${sides[1]}: ${words[1]}`;
  }

  // ---- what is seen of the leaves

  layOut() {
    if (!this.sheets.length || !this.root.isConnected) return;
    const room = this.stage.parentElement.clientWidth;
    if (!room) return;
    const { length, width } = this.data;
    this.lying = room >= NARROW_PX;
    this.long = this.lying ? room : Math.round(between(300, 0.55 * innerHeight, 560));
    const most = this.lying ? Math.round(between(240, 0.6 * innerHeight, 560)) : room;
    if (this.zoom === null) {
      this.zoom = ZOOMS.find((zoom) => this.long * zoom / length * width >= LEAST_WIDE_PX)
        ?? ZOOMS.at(-1);
    }
    this.perUnit = this.long * this.zoom / length;
    this.cross = this.lying ? Math.round(between(60, this.perUnit * width, most)) : room;
    this.middle = between(0.5 / this.zoom, this.middle, 1 - 0.5 / this.zoom);
    const seen = Math.min(1, this.cross / (this.perUnit * width));
    this.aside = between(seen / 2, this.aside, 1 - seen / 2);
    const size = this.lying ? [this.long, this.cross] : [this.cross, this.long];
    const dots = devicePixelRatio || 1;
    [this.canvas.width, this.canvas.height] = size.map((side) => Math.round(side * dots));
    [this.canvas.style.width, this.canvas.style.height] = size.map((side) => `${side}px`);
    this.stage.classList.toggle("lying", this.lying);
    this.stage.classList.toggle("near", this.zoom > 1);
    this.paint();
    this.paintTools();
    clearTimeout(this.resting);
    this.resting = setTimeout(() => this.askFiner(), REST_MS);
  }

  /** Ask for finer pictures of what is seen, if the photographs hold more than is here. */
  askFiner() {
    const part = 1 / this.zoom;
    const from = Math.max(0, Math.floor(64 * (this.middle - 0.75 * part)) / 64);
    const to = Math.min(1, Math.ceil(64 * (this.middle + 0.75 * part)) / 64);
    const low = this.middle - part / 2, high = this.middle + part / 2;
    const here = Math.max(...this.sheets
      .filter((sheet) => sheet.from <= low + 1e-6 && sheet.to >= high - 1e-6)
      .map((sheet) => sheet.perUnit));
    const wanted = Math.min(this.perUnit * (devicePixelRatio || 1), this.data.finest);
    const given = Math.min(this.data.finest, this.data.longPx / ((to - from) * this.data.length));
    if (here * 1.2 < wanted && here * 1.2 < given) this.ask("wanted", [from, to]);
  }

  zoomBy(by) {
    const at = ZOOMS.indexOf(this.zoom) + by;
    if (at < 0 || at >= ZOOMS.length) return;
    this.zoom = ZOOMS[at];
    this.layOut();
    this.said(this.seenWords());
  }

  moveTo(middle) {
    this.middle = middle;
    this.layOut();
  }

  seenWords() {
    const { length, unit } = this.data;
    if (this.zoom === 1) return "The whole leaf is seen";
    const from = (this.middle - 0.5 / this.zoom) * length;
    const shown = [from, from + length / this.zoom].map((at) => Math.round(at));
    return `Seen: ${shown[0]} to ${shown[1]} ${unit} from the top end`;
  }

  paint() {
    if (!this.sheets.length || !this.perUnit) return;
    const to = this.canvas.getContext("2d", { alpha: false });
    to.setTransform(1, 0, 0, 1, 0, 0);
    to.fillStyle = PAPER;
    to.fillRect(0, 0, this.canvas.width, this.canvas.height);
    if (this.mode === "blink") {
      this.paintLeaf(to, this.showing, [[0, 1]]);
    } else {
      const parts = this.mode === "slide" ? [0, this.line, 1]
        : Array.from({ length: STRIPES + 1 }, (_, at) => at / STRIPES);
      const spans = parts.slice(1).map((end, at) => [parts[at], end]);
      [0, 1].forEach((turn) => this.paintLeaf(to,
        turn ? 1 - this.showing : this.showing, spans.filter((_, at) => at % 2 === turn)));
      this.paintEdges(to, parts.slice(1, -1));
    }
    this.root.dataset.showing = this.data.leaves[this.showing].label;
    const mark = this.part("now").firstElementChild;
    mark.className = `mark ${this.showing ? "second" : "first"}`;
    mark.hidden = this.mode !== "blink";
    this.part("now").lastElementChild.textContent = this.nowWords();
  }

  /** Paint one leaf into stretches of the stage, shares of its long side. */
  paintLeaf(to, which, spans) {
    const dots = this.canvas.width / parseFloat(this.canvas.style.width);
    const scale = this.perUnit * dots;
    const { length, width } = this.data;
    const start = (this.middle - 0.5 / this.zoom) * length;
    const across = this.aside * width, half = this.cross * dots / 2;
    to.save();
    to.beginPath();
    for (const [from, end] of spans) {
      const [low, high] = [from, end].map((share) => Math.round(share * this.long * dots));
      if (this.lying) to.rect(low, 0, high - low, this.canvas.height);
      else to.rect(0, low, this.canvas.width, high - low);
    }
    to.clip();
    if (this.lying) to.setTransform(0, -scale, scale, 0, -start * scale, half + across * scale);
    else to.setTransform(scale, 0, 0, scale, half - across * scale, -start * scale);
    to.imageSmoothingQuality = "high";
    for (const sheet of this.sheets) {
      to.drawImage(sheet.images[which], 0, sheet.from * length, width,
        (sheet.to - sheet.from) * length);
    }
    to.restore();
  }

  paintEdges(to, at) {
    const dots = this.canvas.width / parseFloat(this.canvas.style.width);
    to.fillStyle = this.mode === "slide" ? "#2f5d57" : "rgb(47 93 87 / 55%)";
    const thick = Math.max(1, Math.round((this.mode === "slide" ? 2 : 1) * dots));
    for (const share of at) {
      const place = Math.round(share * this.long * dots) - (thick >> 1);
      if (this.lying) to.fillRect(place, 0, thick, this.canvas.height);
      else to.fillRect(0, place, this.canvas.width, thick);
    }
  }

  paintTools() {
    const button = (act) => this.root.querySelector(`[data-act=${act}]`);
    const playing = Boolean(this.timer);
    this.root.dataset.playing = playing;
    button("play").textContent = playing ? "Pause" : "Play";
    button("play").disabled = this.mode !== "blink";
    button("slower").disabled = this.pace === 0;
    button("faster").disabled = this.pace === PACES_MS.length - 1;
    this.part("pace").textContent = this.paceWords();
    for (const one of this.root.querySelectorAll("[data-mode]")) {
      one.setAttribute("aria-pressed", String(one.dataset.mode === this.mode));
    }
    this.part("line").hidden = this.mode !== "slide";
    button("farther").disabled = this.zoom === ZOOMS[0];
    button("nearer").disabled = this.zoom === ZOOMS.at(-1);
    this.part("seen").textContent = this.zoom ? this.seenWords() : "";
    const along = this.root.querySelector("[data-range=along]");
    const room = 1 - 1 / (this.zoom || 1);
    along.disabled = room === 0;
    along.value = room ? Math.round(1000 * (this.middle - 0.5 / this.zoom) / room) : 500;
    along.setAttribute("aria-valuetext", this.zoom ? this.seenWords() : "");
  }

  // ---- mouse, finger, keyboard

  down(event) {
    if (event.button || this.zoom === 1) return;
    this.from = [event.clientX, event.clientY, this.middle, this.aside];
    this.stage.setPointerCapture(event.pointerId);
  }

  drag(event) {
    if (!this.from) return;
    const [x, y, middle, aside] = this.from;
    const right = event.clientX - x, down = event.clientY - y;
    const { length, width } = this.data;
    const [along, across] = this.lying ? [right, -down] : [down, right];
    this.aside = aside - across / (this.perUnit * width);
    this.moveTo(middle - along / (this.perUnit * length));
  }

  key(event) {
    const ahead = STEP / this.zoom;
    const keys = {
      " ": () => this.toggle(), Enter: () => this.step(),
      ArrowLeft: () => this.moveTo(this.middle - ahead), ArrowUp: () => this.moveTo(this.middle - ahead),
      ArrowRight: () => this.moveTo(this.middle + ahead), ArrowDown: () => this.moveTo(this.middle + ahead),
      "+": () => this.zoomBy(1), "=": () => this.zoomBy(1), "-": () => this.zoomBy(-1),
    };
    const act = keys[event.key];
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    if (event.repeat && (event.key === " " || event.key === "Enter")) return;
    act();
  }

  listen() {
    const { stage, root } = this;
    stage.addEventListener("pointerdown", (event) => this.down(event));
    stage.addEventListener("pointermove", (event) => this.drag(event));
    for (const end of ["pointerup", "pointercancel"]) {
      stage.addEventListener(end, () => { this.from = null; });
    }
    stage.addEventListener("keydown", (event) => this.key(event));
    root.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (button?.dataset.mode) this.setMode(button.dataset.mode);
      const acts = {
        play: () => this.toggle(), step: () => this.step(),
        slower: () => this.setPace(-1), faster: () => this.setPace(1),
        farther: () => this.zoomBy(-1), nearer: () => this.zoomBy(1),
      };
      acts[button?.dataset.act]?.();
    });
    root.addEventListener("input", (event) => {
      const value = Number(event.target.value) / 1000;
      if (event.target.dataset.range === "line") { this.line = value; this.paint(); }
      else this.moveTo(0.5 / this.zoom + value * (1 - 1 / this.zoom));
    });
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".blink");
  if (!views.has(root)) views.set(root, new Blink(root));
  views.get(root).take(component);
}
