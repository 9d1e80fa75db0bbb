"""Without its extras the program does all the rest, and names in one message the extra that is missing."""

from __future__ import annotations

import importlib.util
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from tickwright import extras
from tickwright.cli import calling, demo
from tickwright.design.compose import read_brief
from tickwright.plan import examples_folder

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "flat-loop-2.toml"

SOON = """format = "tickwright brief 1"
inputs = {press = {part = "short-button"}}
outputs = {lamp = {drives = "lamp"}}
chart = [{shows = ["lamp: on from press + 0.5 s for 2 s"]}]
"""


@pytest.fixture(name="bare")
def without_extras(monkeypatch):
    """As where only the default was installed."""
    brought = {module for extra in extras.EXTRAS.values() for module in extra.modules}
    real = importlib.util.find_spec
    monkeypatch.setattr(extras, "find_spec", lambda name: None if name in brought else real(name))


@pytest.mark.parametrize(
    ("words", "extra"),
    [
        (("export", "PLAN", "--gif"), "film"),
        (("export", "PLAN", "--mp4"), "film"),
        (("export", "PLAN", "--vtt"), "film"),
        (("export", "PLAN", "--html"), "workbench"),
        (("sheet", "PLAN", "--film"), "film"),
        (("workbench", "PLAN"), "workbench"),
        (
            ("sweep", "PLAN", "--set", "1,0,1:delay=1..2", "--into", "it.sqlite", "--cluster", "tcp://no:1"),
            "cluster",
        ),
        (("place", "adder.v", "--save", "laid"), "verilog"),
    ],
    ids=lambda part: part if isinstance(part, str) else " ".join(part),
)
def test_what_is_missing_is_named_with_its_extra(call, bare, tmp_path, monkeypatch, words, extra):
    monkeypatch.chdir(tmp_path)
    Path("adder.v").write_text("module adder(input a, output b); assign b = a; endmodule\n", encoding="utf-8")
    code, out, err = call(*(EXAMPLE if word == "PLAN" else word for word in words))
    assert (code, out) == (2, "")
    assert err == f"tickwright: {extras.missing_text(extra)}\n"
    assert [path.name for path in tmp_path.iterdir()] == ["adder.v"]


def test_without_the_workbench_a_sheet_has_all_but_the_interactive_page(call, bare, tmp_path):
    code, out, err = call("sheet", EXAMPLE, "-o", tmp_path / "sheet", "--dry-run")
    assert (code, err) == (0, "")
    assert "sheet.pdf" in out
    assert "sheet.html" not in out
    assert f"The interactive page was left out. {extras.missing_text('workbench')}" in out


def test_films_are_asked_for_in_code_too(bare):
    from tickwright.publish import film

    assert film.srt_text(()).strip() == ""
    with pytest.raises(extras.UsageError, match=r"tickwright\[film\]"):
        _ = film.make_film


def test_the_command_that_the_demo_prints_runs_as_it_stands(call, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(demo, "load_brief", lambda _: read_brief(SOON))  # one that is composed at once
    _, out, _ = call("demo")
    words = shlex.split(out.splitlines()[-1])
    assert words[-2] == "measure"
    again = subprocess.run(words, cwd=tmp_path, capture_output=True, check=True)
    assert again.stdout.startswith(b"One press lights the lamp")
    line = next(line for line in out.splitlines() if line.startswith("To have that plan: "))
    assert shlex.split(line)[-4:-2] == ["compose", str(examples_folder() / "briefs" / "ferry-gate.toml")]


def test_the_program_is_called_by_what_the_shell_finds(monkeypatch, tmp_path):
    script = tmp_path / "bin" / ("tickwright.exe" if sys.platform == "win32" else "tickwright")
    script.parent.mkdir()
    monkeypatch.setattr(calling.sys, "executable", str(script.with_name("python")))
    monkeypatch.setattr(calling.shutil, "which", lambda _: None)
    assert calling.own_call() == [str(script.with_name("python")), "-m", "tickwright"]
    script.touch()
    assert calling.own_call() == [str(script)]
    monkeypatch.chdir(tmp_path)
    assert calling.own_call() == [str(script.relative_to(tmp_path))]
    monkeypatch.setattr(calling.shutil, "which", lambda _: str(script))
    assert calling.own_call() == ["tickwright"]
