"""The drawings of the atlas are those of its certificates."""

from __future__ import annotations

import sys
from pathlib import Path

DOCS = Path(__file__).resolve().parents[1] / "docs"
sys.path.insert(0, str(DOCS))

import atlas  # noqa: E402 - lies beside the page


def test_the_drawings_are_those_of_the_certificates():
    drawn = atlas.pictures()
    assert drawn
    assert {path.name for path in (DOCS / "pictures").glob("atlas-*.svg")} == set(drawn)
    for name, text in drawn.items():
        assert (DOCS / "pictures" / name).read_text(encoding="utf-8") == text, name
