"""The storyboard of a film: one still for each caption, on a page that needs nothing else."""

from __future__ import annotations

import base64
import io
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tickwright.publish.film.making import Film

_STYLE = """
:root { color-scheme: light dark }
body { font: 1rem/1.4 system-ui, sans-serif; margin: 2rem auto; max-width: 64rem; padding: 0 1rem }
ol { list-style: none; padding: 0 }
li { margin: 0 0 2.5rem; break-inside: avoid }
img { border: 1px solid #777; height: auto; max-width: 100% }
p { margin: .4rem 0 }
"""


def storyboard_page(film: Film, title: str) -> str:
    """The page as HTML: of each caption the picture it tells of, its second of the film, its lines; stills as PNG."""
    rows = []
    for number, cue in enumerate(film.captions, 1):
        place = film.clock.shots.index(film.clock.shot_at(cue.begin))
        file = io.BytesIO()
        film.shots[place].picture.save(file, format="PNG", optimize=True)
        data = base64.b64encode(file.getvalue()).decode("ascii")
        lines = "".join(f"<p>{escape(line)}</p>" for line in cue.lines)
        rows.append(
            f"<li><h2>{number}: {cue.begin:.2f} s</h2>"
            f'<img src="data:image/png;base64,{data}" alt="{escape(cue.text)}">{lines}</li>'
        )
    note = f"<p>{escape(film.note)}</p>" if film.note else ""
    name = escape(title or "Untitled plan")
    stills = "\n".join(rows)
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; img-src data:; '
        "style-src 'unsafe-inline'\">"
        f"<title>{name}: storyboard</title><style>{_STYLE}</style></head>\n<body><h1>{name}: storyboard</h1>"
        f"<p>Seconds are those of the film. Times in captions assume a world at its full 20 steps a second.</p>{note}\n"
        f"<ol>\n{stills}\n</ol></body></html>\n"
    )
