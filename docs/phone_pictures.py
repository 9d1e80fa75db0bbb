"""Take the picture of the guided build in docs/sheets.md in Chromium: python docs/phone_pictures.py."""

from __future__ import annotations

import io
import shutil
import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

from tickwright import load
from tickwright.material import gather_material
from tickwright.publish import guided_page

HERE = Path(__file__).resolve().parent
PICTURE = HERE / "pictures" / "guided-build.png"
SHOWN = (4, 8, 9)  # steps of the build
GAP = 24


def main() -> int:
    """Take the picture: three screens side by side."""
    page_text = guided_page(gather_material(load(HERE.parent / "examples" / "stacked-loop-4.toml")))
    shots = []
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        file = Path(folder, "build.html")
        file.write_text(page_text, encoding="utf-8")
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 390, "height": 760})
        page.goto(file.as_uri())
        page.wait_for_selector("html[data-ready]")
        for number in range(max(SHOWN) + 1):
            if number in SHOWN:
                shots.append(Image.open(io.BytesIO(page.screenshot())).convert("RGB"))
            page.locator("#main").click()
        browser.close()
    wide, high = shots[0].size
    whole = Image.new("RGB", (len(shots) * (wide + GAP) - GAP, high), "#c9ccd3")
    for number, shot in enumerate(shots):
        whole.paste(shot, (number * (wide + GAP), 0))
    whole.quantize(64).save(PICTURE, optimize=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
