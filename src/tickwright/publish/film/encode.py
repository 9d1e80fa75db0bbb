"""Pictures in a row as GIF and MP4."""

from __future__ import annotations

import io
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import imageio_ffmpeg  # type: ignore[import-untyped]
from PIL import Image
from PIL.Image import Dither, Resampling

from tickwright.errors import UsageError, reason

GIF_UNIT = 0.01  # seconds; viewers show what is shorter than two of them much longer
PALETTE_FROM = 24  # pictures that the colours of a GIF are taken from
RATE = 25  # of an MP4: pictures change at whole 25ths of a second
MP4 = (
    "-vf", "scale=flags=bicubic+accurate_rnd,format=yuv420p",  # without accurate_rnd white comes out grey
    "-c:v", "libx264", "-crf", "15", "-preset", "veryfast", "-bf", "0",
    "-movflags", "+faststart", "-fflags", "+bitexact",
)  # fmt: skip


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
    """The shots as an MP4 (H.264), each picture in it once, seen for whole 25ths of a second.

    Width and height are cut to even numbers of pixels. Raises UsageError where it cannot be put together, as on a full
    disk.
    """
    try:
        with tempfile.TemporaryDirectory(prefix="tickwright-") as folder:
            return _encoded(shots, Path(folder))
    except OSError as error:
        where = f'the folder for temporary files, "{tempfile.gettempdir()}"'
        raise UsageError(f"The film could not be put together in {where}: {reason(error)}. Make room there.") from None


def _encoded(shots: Sequence[Shot], folder: Path) -> bytes:
    """The MP4 that ffmpeg makes of files in the folder: the pictures, and a list of how long each is seen."""
    wide, high = (length // 2 * 2 for length in shots[0].picture.size)
    listed = ["ffconcat version 1.0"]
    for number, (shot, frames) in enumerate(zip(shots, frame_counts(shots), strict=True), 1):
        if frames:
            name = f"{number}.tga"  # packed in run lengths: small, and quick to write and to read
            shot.picture.crop((0, 0, wide, high)).save(folder / name, compression="tga_rle")
            last = number == len(shots) and frames > 1  # a last frame lasts one 25th whatever is asked for
            listed += [f"file {name}\nduration {count / RATE}" for count in ([frames - 1, 1] if last else [frames])]
    (folder / "shots.txt").write_text("\n".join(listed), encoding="ascii")
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-nostdin", "-v", "error", "-f", "concat", "-i", "shots.txt", *MP4]
    done = subprocess.run(
        [*command, "film.mp4"], cwd=folder, check=False, capture_output=True, text=True, errors="replace",
        process_group=0,  # Ctrl-C does not reach it: this process ends it
    )  # fmt: skip
    if done.returncode:
        raise OSError(done.stderr.strip() or f"ffmpeg ended with {done.returncode}")
    return (folder / "film.mp4").read_bytes()


def frame_counts(shots: Sequence[Shot]) -> Iterator[int]:
    """How many frames of an MP4 each shot gets: those that begin while it is seen; the last gets one at least."""
    second, done = 0.0, 0
    for number, shot in enumerate(shots, 1):
        second += shot.seconds
        due = max(round(second * RATE), done + (number == len(shots)))
        yield due - done
        done = due
