"""Pictures in a row as GIF and MP4."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import imageio_ffmpeg  # type: ignore[import-untyped]
from PIL import Image
from PIL.Image import Dither, Resampling

GIF_UNIT = 0.01  # seconds; viewers show what is shorter than two of them much longer
PALETTE_FROM = 24  # pictures that the colours of a GIF are taken from
RATE = 25  # frames a second of an MP4


class Shot(NamedTuple):
    """One picture of a film and how long it is seen, in seconds."""

    picture: Image.Image
    seconds: float


def gif_bytes(shots: Sequence[Shot]) -> bytes:
    """The shots as a GIF that plays once and is shown at its last picture; times to the hundredth of a second.

    What is rounded off a shot is made good by the next, so that the film as a whole keeps its time.
    """
    ends = [0]
    for shot in shots:
        wanted = ends[-1] * GIF_UNIT + shot.seconds
        ends.append(max(ends[-1] + 2, round(wanted / GIF_UNIT)))
    palette = _palette([shot.picture for shot in shots])
    pictures = [shot.picture.quantize(palette=palette, dither=Dither.NONE) for shot in shots]
    file = io.BytesIO()
    pictures[0].save(
        file,
        format="GIF",
        save_all=True,
        append_images=pictures[1:],
        duration=[(end - begin) * 10 for begin, end in pairwise(ends)],
        optimize=False,
    )
    return file.getvalue()


def _palette(pictures: Sequence[Image.Image]) -> Image.Image:
    """The 256 colours that do best for all the pictures, by a look at some of them made small."""
    some = pictures[:: max(1, len(pictures) // PALETTE_FROM)]
    wide, high = (max(1, length // 4) for length in some[0].size)
    sheet = Image.new("RGB", (wide, high * len(some)))
    for row, picture in enumerate(some):
        sheet.paste(picture.resize((wide, high), Resampling.NEAREST), (0, row * high))
    return sheet.quantize(256)


def mp4_bytes(shots: Sequence[Shot]) -> bytes:
    """The shots as an MP4 (H.264, 25 frames a second); width and height are cut to even numbers of pixels."""
    wide, high = (length // 2 * 2 for length in shots[0].picture.size)
    with tempfile.TemporaryDirectory(prefix="tickwright-") as folder:
        goal = Path(folder) / "film.mp4"
        writer = imageio_ffmpeg.write_frames(
            str(goal), (wide, high), fps=RATE, codec="libx264", macro_block_size=2, quality=7, ffmpeg_log_level="error",
            output_params=["-preset", "veryfast", "-movflags", "+faststart", "-fflags", "+bitexact"],
        )  # fmt: skip
        writer.send(None)
        for shot, frames in zip(shots, frame_counts(shots), strict=True):
            data = shot.picture.crop((0, 0, wide, high)).tobytes()
            for _ in range(frames):
                writer.send(data)
        writer.close()
        return goal.read_bytes()


def frame_counts(shots: Sequence[Shot]) -> Iterator[int]:
    """How many frames of an MP4 each shot gets: those that begin while it is seen; the last gets one at least."""
    second, done = 0.0, 0
    for number, shot in enumerate(shots, 1):
        second += shot.seconds
        due = max(round(second * RATE), done + (number == len(shots)))
        yield due - done
        done = due
