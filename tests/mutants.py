"""Mutants: small slips put into the source one at a time, each of which a test named for it must notice.

Usage: python tests/mutants.py [WORD ...] [--list] [--again]

With words, only mutants whose place or text holds one. Each runs on a copy of the source with its tests of slips.py,
until the first that fails; that test must pass without the slip. What came of each is kept in `out/mutants`, with the
test that noticed it, and holds until the file or its tests change: a run that was stopped goes on where it was, and
`--again` tries all anew, the test that noticed it first. A mutant that no test notices is printed, and the exit code is
1: write the test that would, by hand. An edit whose text is not in the source once counts as a failure, too.
"""

from __future__ import annotations

import hashlib
import os
import resource
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest

from resuming import add, records
from slips import MUTANTS, C, Mutant

ROOT = Path(__file__).resolve().parents[1]
KEPT = ROOT / "out" / "mutants" / "tried.jsonl"
MOST_CPU_S = 300  # far more than any of the tests take: what goes on longer does not end
CAUGHT = "caught"


class Witness:
    """A plugin of pytest that keeps which test failed first."""

    name = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep it."""
        if report.failed and not self.name:
            self.name = report.nodeid


def judge(arguments: list[str]) -> int:
    """Run tests in this process until one fails, and write its name into the file named first."""
    witness = Witness()
    code = pytest.main(["-x", "-q", "--tb=no", "-p", "no:cacheprovider", *arguments[1:]], plugins=[witness])
    Path(arguments[0]).write_text(witness.name, "utf-8")
    return int(code)


class Copy:
    """A copy of the source in a folder of its own, into which one slip at a time is put."""

    def __init__(self, folder: Path) -> None:
        self.source = folder / "src"
        self.told = folder / "told"
        self.changes = 0
        self.sound: set[str] = set()  # tests that pass on the source as it is
        shutil.copytree(ROOT / "src", self.source, ignore=shutil.ignore_patterns("__pycache__"))
        # Compiled files beside the copy, so that a trial compiles only the file with the slip.
        self.environment = {
            **os.environ,
            "PYTHONPATH": str(self.source),
            "PYTHONPYCACHEPREFIX": str(folder / "compiled"),
            "PYTHONDONTWRITEBYTECODE": "",
        }

    def write(self, path: Path, text: str) -> None:
        """Write a file of the source, with a time that no compiled file of it has."""
        self.changes += 1
        path.write_text(text, "utf-8")
        os.utime(path, (self.changes, self.changes))

    def run(self, tests: tuple[str, ...]) -> tuple[int, str]:
        """Run tests on the copy until one fails: the exit code and the name of that test."""
        self.told.write_text("", "utf-8")
        done = subprocess.run(
            [sys.executable, __file__, "--judge", str(self.told), *tests],
            cwd=ROOT, env=self.environment, capture_output=True, check=False, preexec_fn=limited,
        )  # fmt: skip
        return done.returncode, self.told.read_text("utf-8")

    def fails_soundly(self, test: str, tests: tuple[str, ...]) -> bool:
        """Whether the test passes on the copy as it is; all of them where none is named."""
        asked = (test,) if test else tests
        if not self.sound.issuperset(asked):
            code, _ = self.run(asked)
            if code == 0:
                self.sound.update(asked)
        return self.sound.issuperset(asked)

    def verdict(self, mutant: Mutant, text: str, first: str) -> tuple[str, str]:
        """What came of a slip, and the test that noticed it; `first` is tried before its others."""
        path = self.source / "tickwright" / mutant.file
        right = path.read_text("utf-8")
        native = self.source / "tickwright" / "engine" / "native"
        libraries = {lib: lib.read_bytes() for lib in native.glob("libtickwright.*")}
        try:
            self.write(path, text)
            if mutant.file.startswith(C):
                library = next((lib for lib in libraries if lib.suffix != ".made-from"), None)
                if library is None or not compiled(self.source / "tickwright", library):
                    return "DOES NOT COMPILE", ""
            code, test = self.run((first,)) if first else (0, "")
            if code != 1:
                code, test = self.run(mutant.tests)
        finally:
            self.write(path, right)
            for lib, content in libraries.items():
                lib.write_bytes(content)
        if code == 0:
            return "SURVIVES", ""
        if code > 1:
            return f"TESTS CANNOT RUN (exit code {code})", ""
        return (CAUGHT if self.fails_soundly(test, mutant.tests) else "ITS TESTS FAIL WITHOUT IT"), test


def limited() -> None:
    """Let this process, and those that it starts, take no more of the processor's time than that."""
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_CPU_S, MOST_CPU_S))


def compiled(source: Path, library: Path) -> bool:
    """Compile the native engine of a copy of the source, in the way that takes least; whether it can be."""
    flags = ["-std=c11", "-O0", "-shared", "-fPIC", "-fvisibility=hidden", "-w"]
    line = ["cc", *flags, str(source / C / "all.c"), "-lm", "-o", str(library)]
    return subprocess.run(line, check=False, capture_output=True).returncode == 0


def source_of(mutant: Mutant) -> str | None:
    """The file's text with the slip in it; None if what it changes is not there just once."""
    text = (ROOT / "src" / "tickwright" / mutant.file).read_text("utf-8")
    return text.replace(mutant.old, mutant.new) if text.count(mutant.old) == 1 else None


def key_of(mutant: Mutant, text: str) -> str:
    """What the verdict on a mutant hangs on: the file with the slip in it, and what its tests say."""
    made = hashlib.sha256(text.encode())
    for test in mutant.tests:
        made.update(test.encode() + (ROOT / test.split("::")[0]).read_bytes())
    return made.hexdigest()


def main(words: list[str], again: bool) -> int:
    """Try the mutants that are asked for and say what came of each."""
    chosen = [one for one in MUTANTS if not words or any(word in f"{one.file} {one.why}" for word in words)]
    known: dict[str, Any] = {one["mutant"]: one for one in records(KEPT)}
    bad = tried = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Copy(Path(folder))
        for mutant in chosen:
            name, text = f"{mutant.file}: {mutant.why}", source_of(mutant)
            before = known.get(name, {"key": "", "found": "", "by": ""})
            if text is None:
                found, test = "IS NOT IN THE SOURCE ONCE", ""
            elif not again and (before["key"], before["found"]) == (key_of(mutant, text), CAUGHT):
                found, test = CAUGHT, before["by"]
            else:
                tried += 1
                found, test = copy.verdict(mutant, text, before["by"])
                add(KEPT, {"mutant": name, "key": key_of(mutant, text), "found": found, "by": test})
            bad += found != CAUGHT
            print(
                f"{found:<10} {name}  ({test or 'by its end'})" if found == CAUGHT else f"{found:<10} {name}",
                flush=True,
            )
    print(f"{len(chosen) - bad} of {len(chosen)} mutants are caught; {tried} were tried in this run.")
    return 1 if bad or not chosen else 0


if __name__ == "__main__":
    given = sys.argv[1:]
    if given[:1] == ["--judge"]:
        sys.exit(judge(given[1:]))
    if "--list" in given:
        print(*(f"{one.file}: {one.why}" for one in MUTANTS), sep="\n")
        sys.exit(0)
    try:
        sys.exit(main([word for word in given if not word.startswith("--")], "--again" in given))
    except KeyboardInterrupt:
        sys.exit(130)
