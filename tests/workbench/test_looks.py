"""The page's colours stand apart as WCAG 2.2 AA asks, and its own files load nothing from anywhere else."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tickwright.publish import THEMES, contrast

WEB = Path(__file__).resolve().parents[2] / "src/tickwright/workbench/web"
CSS = (WEB / "bench.css").read_text(encoding="utf-8")
TEXT_ON = {
    "panel": ("ink", "soft", "accent", "bad", "warn", "good"),
    "paper": ("ink", "soft", "accent"),
    "block": ("ink", "soft"),
    "grid": ("ink",),
    "accent": ("onaccent",),
}


def colours(theme):
    """The colours of a theme: the page has none of its own."""
    assert not re.findall(r"#[0-9a-f]{6}", CSS)
    return THEMES[theme]


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_can_be_read(theme):
    known = colours(theme)
    for ground, texts in TEXT_ON.items():
        for text in texts:
            assert contrast(known[text], known[ground]) >= 4.5, f"{text} on {ground}"  # SC 1.4.3


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_edges_of_controls_and_the_cursor_can_be_seen(theme):
    known = colours(theme)
    for edge, ground in (("field", "panel"), ("accent", "panel"), ("edge", "panel")):
        assert contrast(known[edge], known[ground]) >= 3, f"{edge} on {ground}"  # SC 1.4.11


def test_nothing_is_loaded_from_outside():
    files = [path for path in WEB.rglob("*") if path.is_file()]
    assert len(files) >= 8
    for path in files:
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"https?://|@import|//cdn", text), path.name
