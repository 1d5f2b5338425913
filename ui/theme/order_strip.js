const stacks = new WeakMap();
const EDGE = 40;

const make = (tag, name, words = "") => {
  const made = document.createElement(tag);
  made.className = name;
  made.textContent = words;
  return made;
};
const pairName = (one, other) => JSON.stringify([one, other].sort());

class Stack {
  constructor(root) {
    this.root = root;
    this.strip = root.querySelector(".strip");
    this.nodes = new Map();
    this.listen();
  }

  take(component) {
    this.tell = component.setTriggerValue;
    const data = component.data;
    if (this.version === data.version) return;
    this.looked = data.looked && JSON.stringify(data.looked);
    this.version = data.version;
    this.present = data.present;
    this.proposed = data.leaves.map((leaf) => leaf.label);
    this.joints = new Map(data.joints.map((joint, at) => [
      pairName(this.proposed[at], this.proposed[at + 1]), joint]));
    this.nodes = new Map(data.leaves.map((leaf) => [leaf.label, this.leafNode(leaf)]));
    this.before = [];
    this.chosen = null;
    this.order = [...this.proposed];
    this.said("Drag a leaf to its place, by its grip with a finger; or choose it and use the arrows.");
    this.paint();
  }

  said(words) { this.root.querySelector(".said").textContent = words; }

  leafNode(leaf) {
    const node = make("li", "leaf");
    node.tabIndex = 0;
    node.dataset.leaf = leaf.label;
    const img = document.createElement("img");
    img.src = leaf.picture;
    img.alt = "";
    img.draggable = false;
    const grip = make("span", "grip", "\u2194");
    grip.setAttribute("aria-hidden", "true");
    node.append(img, grip, make("b", "", leaf.label), make("small", "place"));
    if (leaf.lies) node.append(make("small", "lies", leaf.lies));
    node.lies = leaf.lies;
    return node;
  }

  jointNode(one, other) {
    const joint = this.joints.get(pairName(one, other));
    const node = make("li", "joint");
    const kind = joint ? joint.kind : "unknown";
    node.append(make("i", `mark ${kind}`), make("span", "word", joint ? joint.words : "not as proposed"));
    if (joint?.gap) node.append(make("span", "gap", joint.gap));
    node.dataset.pair = JSON.stringify([one, other]);
    node.classList.toggle("looked", node.dataset.pair === this.looked);
    const look = make("button", "look", "Blink");
    look.type = "button";
    look.setAttribute("aria-label", `Look at leaves ${one} and ${other} in turn`);
    node.append(look);
    return node;
  }

  /** Ask for the two leaves of a joint to be shown in turn. */
  look(pair) {
    this.looked = pair;
    const [one, other] = JSON.parse(pair);
    for (const node of this.strip.querySelectorAll(".joint")) {
      node.classList.toggle("looked", node.dataset.pair === pair);
    }
    this.said(`Leaves ${one} and ${other} are shown in turn below.`);
    this.tell("looked", [one, other]);
  }

  paint() {
    const parts = [];
    this.order.forEach((label, at) => {
      if (at) parts.push(this.jointNode(this.order[at - 1], label));
      const node = this.nodes.get(label);
      const was = this.present.indexOf(label) + 1;
      const words = was === at + 1 ? `place ${at + 1}, as now` : `place ${at + 1}, now ${was}`;
      node.querySelector(".place").textContent = words;
      node.setAttribute("aria-label", [`Leaf ${label}`, words, node.lies].filter(Boolean).join(", "));
      node.classList.toggle("chosen", label === this.chosen);
      node.classList.toggle("held", label === this.held);
      parts.push(node);
    });
    const at = this.strip.scrollLeft;
    const focused = this.strip.getRootNode().activeElement;
    this.strip.replaceChildren(...parts);
    this.strip.scrollLeft = at;
    if (focused?.dataset?.leaf) focused.focus({ preventScroll: true });
    this.paintTools();
  }

  paintTools() {
    const same = (one, other) => one.every((label, at) => label === other[at]);
    const at = this.order.indexOf(this.chosen);
    const off = {
      left: at < 1, right: at < 0 || at === this.order.length - 1, put: at < 0,
      back: !this.before.length, save: same(this.order, this.present),
      proposed: same(this.order, this.proposed), present: same(this.order, this.present),
    };
    for (const [act, is] of Object.entries(off)) {
      this.root.querySelector(`[data-act=${act}]`).disabled = is;
    }
    const name = this.chosen === null ? "No leaf chosen" : `Leaf ${this.chosen}`;
    this.root.querySelector(".chosen-name").textContent = name;
  }

  /** Show another order; the one before can be stepped back to. */
  become(order) {
    if (order.every((label, at) => label === this.order[at])) return;
    this.before.push(this.order);
    this.order = order;
    this.paint();
  }

  moved(label, to) {
    const rest = this.order.filter((one) => one !== label);
    rest.splice(to, 0, label);
    return rest;
  }

  step(label, by) {
    const to = this.order.indexOf(label) + by;
    if (to < 0 || to >= this.order.length) return;
    this.become(this.moved(label, to));
    this.nodes.get(label).scrollIntoView({ block: "nearest", inline: "nearest" });
    this.said(`Leaf ${label} is in place ${to + 1} of ${this.order.length}.`);
  }

  /** Put one leaf behind its neighbour as proposed, all others as they are. */
  put(label) {
    const at = this.proposed.indexOf(label);
    const rest = this.order.filter((one) => one !== label);
    const to = at ? rest.indexOf(this.proposed[at - 1]) + 1 : rest.indexOf(this.proposed[1]);
    this.become(this.moved(label, to));
    this.said(`Leaf ${label} is in place ${to + 1} of ${this.order.length}.`);
  }

  // ---- mouse and finger

  down(event) {
    const leaf = event.target.closest(".leaf");
    if (!leaf || event.button) return;
    this.chosen = leaf.dataset.leaf;
    const takes = event.pointerType === "mouse" || event.target.closest(".grip");
    if (takes) {
      event.preventDefault();
      this.held = this.chosen;
      this.start = this.order;
      this.strip.setPointerCapture(event.pointerId);
    }
    this.paint();
    if (takes) leaf.focus({ preventScroll: true });
  }

  drag(event) {
    if (!this.held) return;
    const box = this.strip.getBoundingClientRect();
    if (event.clientX < box.left + EDGE) this.strip.scrollLeft -= 14;
    if (event.clientX > box.right - EDGE) this.strip.scrollLeft += 14;
    const others = this.order.filter((label) => label !== this.held);
    const to = others.filter((label) => {
      const one = this.nodes.get(label).getBoundingClientRect();
      return event.clientX > one.left + one.width / 2;
    }).length;
    const order = this.moved(this.held, to);
    if (order.every((label, at) => label === this.order[at])) return;
    this.order = order;
    this.paint();
  }

  up(event) {
    if (!this.held) return;
    const [label, order] = [this.held, this.order];
    this.held = null;
    this.order = this.start;
    if (event.type === "pointerup") this.become(order);
    this.paint();
    if (this.order !== this.start) {
      this.said(`Leaf ${label} is in place ${this.order.indexOf(label) + 1} of ${order.length}.`);
    }
  }

  key(event) {
    const label = event.target.closest(".leaf")?.dataset.leaf;
    const by = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (label === undefined || !by) return;
    event.preventDefault();
    this.chosen = label;
    this.step(label, by);
  }

  listen() {
    const { strip } = this;
    strip.addEventListener("pointerdown", (event) => this.down(event));
    strip.addEventListener("pointermove", (event) => this.drag(event));
    strip.addEventListener("pointerup", (event) => this.up(event));
    strip.addEventListener("pointercancel", (event) => this.up(event));
    strip.addEventListener("keydown", (event) => this.key(event));
    strip.addEventListener("focusin", (event) => {
      const label = event.target.dataset.leaf;
      if (label === undefined || label === this.chosen) return;
      this.chosen = label;
      for (const [name, node] of this.nodes) node.classList.toggle("chosen", name === label);
      this.paintTools();
    });
    this.root.addEventListener("click", (event) => {
      const joint = event.target.closest(".joint");
      if (joint) this.look(joint.dataset.pair);
      const acts = {
        proposed: () => this.become([...this.proposed]),
        present: () => this.become([...this.present]),
        left: () => this.step(this.chosen, -1), right: () => this.step(this.chosen, 1),
        put: () => this.put(this.chosen),
        back: () => { this.order = this.before.pop(); this.paint(); },
        save: () => {
          this.said("Sent to be kept. What came of it stands above.");
          this.root.querySelector("[data-act=save]").disabled = true;
          this.tell("kept", this.order);
        },
      };
      acts[event.target.closest("button")?.dataset.act]?.();
    });
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".stack");
  if (!stacks.has(root)) stacks.set(root, new Stack(root));
  stacks.get(root).take(component);
}
