"""Print how many frames a second the two mirrors show while dragged, in headless Chromium.

Run with ``PYTHONPATH=.``; the catalogue is drawn for the run. Headless Chromium paints by the
processor alone, so a machine with a graphics card is faster.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from sample_images import FlitchPlan, draw_flitch
from tests.ui.running import run_ui
from tests.ui.served import screens_served
from tests.ui.test_browser import FLAGS

DRAG = """async (seconds) => {
  const roots = [...document.querySelectorAll("*")].map((one) => one.shadowRoot).filter(Boolean);
  const host = roots.find((one) => one.querySelector(".mirrors")) || document;
  const stage = host.querySelector(".stage");
  const root = host.querySelector(".mirrors");
  stage.setPointerCapture = () => {};
  const box = stage.getBoundingClientRect();
  const middle = [box.left + box.width / 2, box.top + box.height / 2];
  const send = (kind, dx, dy) => stage.dispatchEvent(new PointerEvent(kind,
    { pointerId: 1, clientX: middle[0] + dx, clientY: middle[1] + dy, bubbles: true }));
  const frames = () => Number(root.dataset.frames);
  send("pointerdown", 0, 0);
  const [first, start] = [frames(), performance.now()];
  for (let step = 0; performance.now() - start < seconds * 1000; step += 1) {
    send("pointermove", 20 * Math.sin(step / 5), 30 * Math.sin(step / 7));
    await new Promise((done) => requestAnimationFrame(done));
  }
  const told = [(frames() - first) / (performance.now() - start) * 1000,
    host.querySelector("canvas").width];
  send("pointerup", 0, 0);
  return told;
}"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="one second, only to see it work")
    seconds = 1 if parser.parse_args().quick else 5
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        plan = FlitchPlan(seed=7, leaves=3, photo_px=(1000, 1500), shots=("as-lies/A", "blank/A"))
        for _ in draw_flitch(plan, place / "drawn"):
            pass
        environment = {
            "FLITCHWRIGHT_CATALOG": str(place / "catalog.db"),
            "FLITCHWRIGHT_PICTURES": str(place / "pictures"),
            "XDG_CONFIG_HOME": str(place / "config"),
        }
        run_ui("take-in", place / "drawn", "--flitch", "Seven", environment=environment)
        program = os.environ.get("CHROMIUM") or shutil.which("chromium")
        with screens_served(environment) as address, sync_playwright() as playwright:
            chromium = playwright.chromium.launch(executable_path=program, args=FLAGS)
            for painter in ("card", "plain"):
                page = chromium.new_page(viewport={"width": 1280, "height": 900})
                page.goto(f"{address}/rosette?bundle=1&painter={painter}")
                page.locator(f".mirrors[data-painter={painter}]").wait_for(timeout=60_000)
                page.wait_for_timeout(1000)
                rate, pixels = page.evaluate(DRAG, seconds)
                sys.stdout.write(f"{painter}: {rate:.0f} frames a second, {pixels:.0f} px across\n")
                page.close()
            chromium.close()


if __name__ == "__main__":
    main()
