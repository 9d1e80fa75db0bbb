"""Golden files: what a run made once and a person has looked at. A run never overwrites them."""

from __future__ import annotations

import io
from difflib import unified_diff
from pathlib import Path
from typing import Any

import pytest


def hold_to(golden: Path, made: str) -> None:
    """Fail if what was made differs from the golden file; what was made then lies beside it with `.new` at its end."""
    new = golden.with_name(golden.name + ".new")
    old = golden.read_text(encoding="utf-8") if golden.exists() else None
    if made == old:
        new.unlink(missing_ok=True)
        return
    golden.parent.mkdir(parents=True, exist_ok=True)
    new.write_text(made, encoding="utf-8", newline="\n")
    if old is None:
        pytest.fail(
            f"There is no golden file {golden}: look at {new.name} and rename it if it is right.", pytrace=False
        )
    lines = list(unified_diff(old.splitlines(), made.splitlines(), golden.name, new.name, lineterm="", n=1))
    shown = "\n".join(line[:200] for line in lines[:20])
    pytest.fail(f"{golden} is not what is made now: look at {new.name} beside it.\n{shown}", pytrace=False)


FIELD = 24  # pixels along each side of the squares that are compared one by one


def hold_page_to(golden: Path, made: bytes, tolerance: float = 1.0, in_a_field: float = 255.0) -> None:
    """Fail if a picture differs from the golden PNG in size, or by more than `tolerance` of 255 on the average.

    `in_a_field` is how much each square of it may differ on the average: something small that is new is less than
    nothing on a whole page. Rounding differs a little from one processor to another; a line of text that moves makes
    more than that.
    """
    from PIL import Image, ImageChops, ImageStat

    new = golden.with_name(golden.name + ".new")
    if golden.exists():
        old, now = (Image.open(file).convert("L") for file in (golden, io.BytesIO(made)))
        if old.size == now.size:
            apart = ImageChops.difference(old, now)
            fields = apart.resize([-(-side // FIELD) for side in apart.size], Image.Resampling.BOX)
            if ImageStat.Stat(apart).mean[0] <= tolerance and fields.getextrema()[1] <= in_a_field:
                new.unlink(missing_ok=True)
                return
    golden.parent.mkdir(parents=True, exist_ok=True)
    new.write_bytes(made)
    pytest.fail(f"{golden} is not what is made now: look at {new.name} beside it.", pytrace=False)


def hold_screen_to(golden: Path, page: Any, *hidden: str, style: str = "") -> None:
    """As `hold_page_to` for what a page in a browser shows now, at half its size.

    What is `hidden`, as CSS selectors, differs from run to run (dates, folders, how long it took) or from one way of
    drawing to another (WebGL), and is covered; `style` holds while the picture is taken.
    """
    from PIL import Image

    covers = [page.locator(selector) for selector in hidden]
    taken = page.screenshot(mask=covers, mask_color="#888888", animations="disabled", style=style)
    with Image.open(io.BytesIO(taken)) as whole:
        half = whole.convert("RGB").resize((whole.width // 2, whole.height // 2), Image.Resampling.BOX)
    made = io.BytesIO()
    half.save(made, "PNG", optimize=True)
    hold_page_to(golden, made.getvalue(), tolerance=1.5, in_a_field=6)
