"""A large picture to look at closely: drag to move, wheel, pinch or buttons to come nearer."""

from __future__ import annotations

import base64

import streamlit as st

_HTML = """
<div class="table">
  <div class="stage" tabindex="0" role="img"><img alt="" draggable="false"></div>
  <div class="tools">
    <button type="button" data-act="in" aria-label="Come nearer">+</button>
    <button type="button" data-act="out" aria-label="Step back">&minus;</button>
    <button type="button" data-act="fit">Whole</button>
  </div>
</div>
"""

_CSS = """
.stage {
  height: 300px; overflow: hidden; touch-action: none; cursor: grab;
  background: #ded4c1; border: 1px solid #cfc3ad; border-radius: 3px;
}
.stage:active { cursor: grabbing; }
.stage:focus-visible { outline: 2px solid #2f5d57; }
.stage img {
  display: block; transform-origin: 0 0; max-width: none; user-select: none;
  box-shadow: 0 2px 10px rgb(43 37 32 / 40%);
}
.tools { display: flex; justify-content: flex-end; gap: 6px; padding-top: 6px; }
.tools button {
  min-width: 40px; height: 40px; padding: 0 10px; font: 600 16px "Source Sans", sans-serif;
  color: #2b2520; background: #fdfaf3; border: 1px solid #cfc3ad; border-radius: 3px;
  cursor: pointer;
}
.tools button:hover { border-color: #2f5d57; color: #2f5d57; }
"""

_JS = """
const views = new WeakMap();

export default function (component) {
  const { data, parentElement } = component;
  const stage = parentElement.querySelector(".stage");
  const img = stage.querySelector("img");
  stage.setAttribute("aria-label", data.alt);
  let view = views.get(stage);
  const first = !view;
  if (first) {
    view = { scale: 1, x: 0, y: 0, fitted: true, pointers: new Map(), size: "" };
    views.set(stage, view);
  }

  const paint = () => {
    // While the whole picture shows, one finger and the plain wheel still scroll the page.
    stage.style.touchAction = view.fitted ? "pan-y" : "none";
    img.style.transform = `translate(${view.x}px, ${view.y}px) scale(${view.scale})`;
  };
  const whole = () => Math.min(
    (stage.clientWidth - 24) / img.naturalWidth, (stage.clientHeight - 24) / img.naturalHeight);
  const fit = () => {
    if (!img.naturalWidth || !stage.clientWidth) return;
    const full = (stage.clientWidth - 24) * img.naturalHeight / img.naturalWidth + 24;
    stage.style.height = `${Math.max(220, Math.min(full, window.innerHeight * 0.7, 760))}px`;
    view.scale = whole();
    view.x = (stage.clientWidth - img.naturalWidth * view.scale) / 2;
    view.y = (stage.clientHeight - img.naturalHeight * view.scale) / 2;
    view.fitted = true;
    paint();
  };
  const zoom = (factor, x, y) => {
    const next = Math.min(4, Math.max(whole() * 0.8, view.scale * factor));
    const ratio = next / view.scale;
    view.x = x - (x - view.x) * ratio;
    view.y = y - (y - view.y) * ratio;
    view.scale = next;
    view.fitted = false;
    paint();
  };
  const place = (event) => {
    const box = stage.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };

  img.onload = () => {
    const size = `${img.naturalWidth}x${img.naturalHeight}`;
    if (view.size !== size) { view.size = size; fit(); } else { paint(); }
  };
  const address = `data:${data.kind};base64,${data.picture}`;
  if (img.getAttribute("src") !== address) img.src = address;

  if (!first) return;
  stage.addEventListener("wheel", (event) => {
    if (view.fitted && !event.ctrlKey) return;
    event.preventDefault();
    zoom(Math.exp(-event.deltaY * 0.0015), ...place(event));
  }, { passive: false });
  stage.addEventListener("pointerdown", (event) => {
    stage.setPointerCapture(event.pointerId);
    view.pointers.set(event.pointerId, [event.clientX, event.clientY]);
  });
  stage.addEventListener("pointermove", (event) => {
    const before = view.pointers.get(event.pointerId);
    if (!before) return;
    const now = [event.clientX, event.clientY];
    if (view.pointers.size === 2) {
      const other = [...view.pointers].find(([id]) => id !== event.pointerId)[1];
      const apart = (point) => Math.hypot(point[0] - other[0], point[1] - other[1]) || 1;
      const box = stage.getBoundingClientRect();
      zoom(apart(now) / apart(before),
        (now[0] + other[0]) / 2 - box.left, (now[1] + other[1]) / 2 - box.top);
    } else {
      view.x += now[0] - before[0];
      view.y += now[1] - before[1];
      view.fitted = false;
      paint();
    }
    view.pointers.set(event.pointerId, now);
  });
  const lift = (event) => view.pointers.delete(event.pointerId);
  stage.addEventListener("pointerup", lift);
  stage.addEventListener("pointercancel", lift);
  stage.addEventListener("dblclick", (event) => zoom(2, ...place(event)));
  parentElement.querySelector(".tools").addEventListener("click", (event) => {
    const act = event.target.dataset.act;
    const middle = [stage.clientWidth / 2, stage.clientHeight / 2];
    if (act === "in") zoom(1.5, ...middle);
    if (act === "out") zoom(1 / 1.5, ...middle);
    if (act === "fit") fit();
  });
  new ResizeObserver(() => { if (view.fitted) fit(); }).observe(stage);
}
"""

_light_table = st.components.v2.component("light_table", html=_HTML, css=_CSS, js=_JS)


def light_table(picture: bytes, *, kind: str, alt: str, key: str) -> None:
    """Show ``picture``; how near one has come survives a new picture of the same size.

    Parameters
    ----------
    picture : bytes
        An encoded picture.
    kind : str
        Its media type, e.g. ``image/png``.
    alt : str
        What it shows, in words.
    key : str
        Unique on the page.
    """
    encoded = base64.b64encode(picture).decode("ascii")
    _light_table(data={"picture": encoded, "kind": kind, "alt": alt}, key=key)
