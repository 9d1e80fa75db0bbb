"""Worlds that once made engines differ, kept for ever: a plan file and, beside it, the script of the hand.

A number is a difference that `fuzz` found. A name such as `torch.delay` is a world on which an engine that is wrong by
one in that number of the rule set differs; it was found by trying such engines on purpose.

`NAME.hand` holds a line `steps N`, then one act a line; what follows a # is a comment.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from tickwright.plan import dumps, load
from worlds.generator import World

FOLDER = Path(__file__).resolve().parents[1] / "corpus"


def keep(world: World, why: str, folder: Path = FOLDER, name: str | None = None) -> Path:
    """Write the world down, with the reason as a comment, and give the path of its plan file."""
    text = dumps(world.plan)
    digest = hashlib.sha256((text + "\n".join(world.acts)).encode()).hexdigest()[:8]
    path = folder / f"{name or digest}.toml"
    folder.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")
    lines = [*(f"# {line}" for line in why.splitlines()), f"steps {world.steps}", *world.acts]
    path.with_suffix(".hand").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def kept(folder: Path = FOLDER) -> list[World]:
    """Every world kept, by name."""
    return [_read(path) for path in sorted(folder.glob("*.toml"))]


def _read(path: Path) -> World:
    steps, acts = 0, []
    for line in path.with_suffix(".hand").read_text("utf-8").splitlines():
        text = line.partition("#")[0].strip()
        if text.startswith("steps "):
            steps = int(text.removeprefix("steps "))
        elif text:
            acts.append(text)
    return World(f"kept {path.stem}", load(path), tuple(acts), steps)
