"""How this program is called from where the user stands: what it prints as a command runs as it stands."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

NAME = "tickwright"


def shell_words(*words: str) -> str:
    """Words as the shell of this system takes them."""
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)


def from_here(path: Path) -> str:
    """A path as one writes it from the folder one is in: short if it lies below, else whole."""
    here = Path.cwd()
    return str(path.relative_to(here)) if path.is_relative_to(here) else str(path)


def own_call() -> list[str]:
    """The words that call this very program: its name if the shell finds it, else its script, else the module."""
    script = Path(sys.executable).with_name(NAME + (".exe" if os.name == "nt" else ""))
    found = shutil.which(NAME)
    if found is not None and (not script.exists() or Path(found).resolve() == script.resolve()):
        return [NAME]
    if script.exists():
        return [from_here(script)]
    return [sys.executable, "-m", NAME]
