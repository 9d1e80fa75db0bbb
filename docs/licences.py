"""The page of licences: what an installation brings along, and under which terms."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, distribution

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tickwright.extras import EXTRAS

OPENING = """# Licences of what is installed

Tickwright itself is under the MIT licence. An installation brings other packages along, each under its own licence. The
table was made by pip-licenses from an installation on Linux, of the versions in requirements.lock; on other systems one
or two packages differ. *With* says whether the default brings a package, or which extra.
"""
CLOSING = """## What lies inside them and inside Tickwright

- **{video}** (extra `film`) holds a compiled ffmpeg. It is a GPL build. Asked for its terms it answers:
  "{terms}".
  The GPL covers the program, not the films that it makes. Who passes the binary on must keep to the GPL. Tickwright
  calls it as a program of its own and contains no part of it.
- **nicegui** (extra `workbench`) holds three.js and other scripts for pages. An interactive page that you make contains
  three.js; its notice (MIT) stands at the top of the script in the page.
- **typst** holds fonts of its own. A PDF embeds those of their letters that it shows.
- Tickwright holds two fonts made of Inter (SIL Open Font License 1.1); the text of the licence lies beside them, in
  `src/tickwright/publish/fonts/LICENSE`.
"""


def page() -> str:
    """The page, made from the packages that are installed here."""
    homes = {name: ["default"] for name in brought_by(None)}
    for extra in EXTRAS:
        for name in brought_by(extra):
            if homes.get(name) != ["default"]:
                homes.setdefault(name, []).append(f"`{extra}`")
    lines = ["| package | version | licence | with |", "|---|---|---|---|"]
    for entry in licences(homes):
        name = canonicalize_name(entry["Name"])
        terms = " ".join(entry["License"].split()).replace("|", "\\|")
        lines.append(f"| {name} | {entry['Version']} | {terms} | {', '.join(homes[name])} |")
    return f"{OPENING}\n" + "\n".join(lines) + f"\n\n{CLOSING.format(video='imageio-ffmpeg', terms=terms_of_ffmpeg())}"


def brought_by(extra: str | None) -> set[str]:
    """The packages that an installation with this extra brings, in this environment, Tickwright itself left out."""
    found: set[str] = set()
    left = list(requirements("tickwright", {extra or ""}))
    while left:
        wanted = left.pop()
        name = canonicalize_name(wanted.name)
        if name not in found:
            found.add(name)
            left += requirements(name, set(wanted.extras) | {""})
    return found


def requirements(name: str, extras: set[str]) -> Iterator[Requirement]:
    """What a package asks for here with these extras ("" for none)."""
    try:
        texts = distribution(name).requires or []
    except PackageNotFoundError:
        raise SystemExit(f"{name} is not installed: run python dev.py docs, which installs all.") from None
    for text in texts:
        wanted = Requirement(text)
        if wanted.marker is None or any(wanted.marker.evaluate({"extra": extra}) for extra in extras):
            yield wanted


def licences(names: dict[str, list[str]]) -> list[dict[str, str]]:
    """What pip-licenses says of these packages, by name."""
    command = [sys.executable, "-m", "piplicenses", "--format=json", "--from=mixed", "--packages", *sorted(names)]
    entries: list[dict[str, str]] = json.loads(subprocess.run(command, capture_output=True, check=True).stdout)
    assert {canonicalize_name(entry["Name"]) for entry in entries} == set(names)
    return sorted(entries, key=lambda entry: canonicalize_name(entry["Name"]))


def terms_of_ffmpeg() -> str:
    """The licence that the bundled ffmpeg itself tells."""
    import imageio_ffmpeg

    done = subprocess.run([imageio_ffmpeg.get_ffmpeg_exe(), "-L"], capture_output=True, check=True)
    told = re.search(r"under the terms of the .*?any later version", " ".join(done.stdout.decode().split()))
    assert told, "the bundled ffmpeg tells no licence that is known here"
    return told[0]
