"""Films: a run as moving pictures, slow where it matters and safe to watch, with stills, captions and an outline."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tickwright.extras import need_extra
from tickwright.lazy import lazy_exports

if TYPE_CHECKING:
    from tickwright.publish.film.clock import Schedule, schedule
    from tickwright.publish.film.encode import gif_bytes, mp4_bytes
    from tickwright.publish.film.making import Film, make_film
    from tickwright.publish.film.outline import talk_outline
    from tickwright.publish.film.spoken import Cue, spoken_film
    from tickwright.publish.film.storyboard import storyboard_page
    from tickwright.publish.film.telling import Caption, captions, srt_text, vtt_text

__all__ = [
    "Caption",
    "Cue",
    "Film",
    "Schedule",
    "captions",
    "gif_bytes",
    "make_film",
    "mp4_bytes",
    "schedule",
    "spoken_film",
    "srt_text",
    "storyboard_page",
    "talk_outline",
    "vtt_text",
]
_MADE_OF_PICTURES = ("Film", "gif_bytes", "make_film", "mp4_bytes", "Cue", "spoken_film")  # these need the extra "film"
_get = lazy_exports(
    __name__,
    {
        "telling": ("Caption", "captions", "srt_text", "vtt_text"),
        "encode": ("gif_bytes", "mp4_bytes"),
        "making": ("Film", "make_film"),
        "outline": ("talk_outline",),
        "spoken": ("Cue", "spoken_film"),
        "storyboard": ("storyboard_page",),
        "clock": ("Schedule", "schedule"),
    },
)


def __getattr__(name: str) -> Any:
    if name in _MADE_OF_PICTURES:
        need_extra("film")
    return _get(name)
