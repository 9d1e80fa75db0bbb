"""Try each way to install Tickwright from a wheel, and measure what it brings: python dev.py install [--write].

Every way gets an environment of its own in a temporary folder; there the program must do what it is installed for.
With --write the figures go into docs/install.md. It needs a package index and uv.
"""

from __future__ import annotations

import os
import platform
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "install.md"
BEGIN, END = "<!-- measured: python dev.py install --write -->\n", "<!-- end of what is measured -->\n"
MOST_MEGABYTES, MOST_PACKAGES = 450, 45  # of the default
NOT_COUNTED = {"pip", "setuptools", "tickwright"}
PLAN = "flat-loop-2.toml"
# The main job, from a plan to what is handed on, which the default must do by itself.
JOBS = (
    ("demo",),
    ("run", PLAN, "--do", "0:press"),
    ("measure", PLAN, "--full"),
    ("check", PLAN),
    ("why", PLAN),
    ("prove", PLAN, "--claim", "settles"),
    ("compare", PLAN, "flat-loop-4.toml"),
    ("diagnose", PLAN),
    ("choose", "--hold", "5 s", "--room", "9x5x4", "--in", "west", "--out", "east", "--save", "chosen"),
    ("sheet", PLAN, "-o", "sheet"),
    ("export", PLAN, "--png"),
)


class Failure(Exception):
    """A way to install does not work."""


class Brought(NamedTuple):
    """What an installation holds."""

    packages: int
    megabytes: int


def main() -> int:
    """Try them all; the first that fails ends it with 1."""
    uv = shutil.which("uv")
    if uv is None:
        print("install: uv is not on the PATH; install it and try again.", file=sys.stderr)
        return 2
    try:
        with tempfile.TemporaryDirectory(prefix="tickwright-install-") as folder:
            table = try_all(uv, Path(folder))
    except Failure as failure:
        print(f"install: {failure}", file=sys.stderr)
        return 1
    print(table)
    if "--write" in sys.argv[1:]:
        before, rest = PAGE.read_text(encoding="utf-8").split(BEGIN)
        PAGE.write_text(f"{before}{BEGIN}{table}{END}{rest.split(END)[1]}", encoding="utf-8", newline="\n")
    return 0


def try_all(uv: str, folder: Path) -> str:
    """Build the wheel, install it in every way, and give the table of what each brings."""
    done([uv, "build", "--quiet", "--wheel", "--out-dir", str(folder), str(ROOT)])
    (wheel,) = folder.glob("*.whl")
    python = environment(uv, folder / "pip")
    done([str(python), "-m", "ensurepip"])
    done([str(python), "-m", "pip", "install", "-qq", "--disable-pip-version-check", "--no-compile", str(wheel)])
    plain = brought(python)
    if plain.megabytes > MOST_MEGABYTES or plain.packages > MOST_PACKAGES:
        raise Failure(
            f"the default brings {plain}, and is to keep below {MOST_MEGABYTES} MB, {MOST_PACKAGES} packages."
        )
    do_the_main_job(script(python), folder / "work")
    rows = {"default: `pip install .`": plain}
    for extra in extras():
        python = environment(uv, folder / extra)
        done([uv, "pip", "install", "--quiet", "--python", str(python), f"{wheel}[{extra}]"])
        rows[f'with `{extra}`: `pip install ".[{extra}]"`'] = brought(python)
    for way, words in (
        ("uv tool install", [uv, "tool", "install", "--quiet"]),
        ("pipx install", [uv, "tool", "run", "--quiet", "pipx", "install", "--quiet"]),
    ):
        bin_folder = folder / "bin" / way.split()[0]
        bin_folder.mkdir(parents=True)
        places = {"UV_TOOL_DIR": folder / f"tools-{way[:2]}", "UV_TOOL_BIN_DIR": bin_folder}
        places |= {
            "PIPX_HOME": folder / "pipx",
            "PIPX_BIN_DIR": bin_folder,
            "PIPX_DEFAULT_PYTHON": Path(sys.executable),
        }
        done([*words, str(wheel)], env={**os.environ, **{name: str(place) for name, place in places.items()}})
        said = done([str(bin_folder / script(python).name), "--version"])
        print(f"{way}: {said.strip().splitlines()[0]}", file=sys.stderr)
    where = f"{platform.system()}, {platform.machine()}, Python {platform.python_version()}"
    lines = [
        f"Measured on {where}:",
        "",
        "| installation | packages besides Tickwright | MB on disk |",
        "|---|---|---|",
    ]
    lines += [f"| {name} | {one.packages} | {one.megabytes} |" for name, one in rows.items()]
    return "\n".join(lines) + "\n"


def extras() -> list[str]:
    """The extras that are for users."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return sorted(set(project["optional-dependencies"]) - {"dev"})


def environment(uv: str, folder: Path) -> Path:
    """A new environment's Python."""
    done([uv, "venv", "--quiet", "--python", sys.executable, str(folder)])
    return folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def script(python: Path) -> Path:
    """The command that an installation puts beside its Python."""
    return python.with_name("tickwright" + python.suffix)


def brought(python: Path) -> Brought:
    """How many packages lie in an environment, and how much they and Tickwright take, compiled files left out."""
    home = Path(done([str(python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"]).strip())
    names = {re.sub(r"[-_.]+", "-", path.name.split("-")[0]).lower() for path in home.glob("*.dist-info")}
    files = [path for path in home.rglob("*") if path.is_file() and path.suffix != ".pyc"]
    size = sum(path.stat().st_size for path in files if path.relative_to(home).parts[0] not in ("pip", "setuptools"))
    return Brought(len(names - NOT_COUNTED), round(size / 1e6))


def do_the_main_job(command: Path, folder: Path) -> None:
    """Do all that the default is for, from the plans that came with it."""
    folder.mkdir()
    for name in (PLAN, "flat-loop-4.toml"):
        shutil.copy(ROOT / "examples" / name, folder)
    for words in JOBS:
        said = done([str(command), *words], cwd=folder)
        if words == ("demo",):
            printed = said.splitlines()[-1].split()
            done([*printed], cwd=folder)
    if not (folder / "sheet" / "sheet.pdf").read_bytes().startswith(b"%PDF"):
        raise Failure("the sheet of the default is no PDF.")


def done(words: list[str], cwd: Path | None = None, env: dict[str, str] | None = None) -> str:
    """What a command printed; raises Failure, with what it said of errors, if it ends with anything but 0."""
    ended = subprocess.run(words, cwd=cwd, env=env, capture_output=True, text=True, encoding="utf-8", check=False)
    if ended.returncode:
        raise Failure(f"{' '.join(words)}: exit code {ended.returncode}\n{ended.stdout[-500:]}{ended.stderr[-1500:]}")
    return ended.stdout


if __name__ == "__main__":
    sys.exit(main())
