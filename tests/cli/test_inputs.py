"""Several plans, folders, standard input and output, --quiet and colours: the same for every command."""

from __future__ import annotations

import inspect
import io
import json
import shutil
import sys
from importlib import import_module
from pathlib import Path

import pytest

from tickwright.cli import settings, style
from tickwright.cli.app import COMMANDS

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
LATCH, LOOP = EXAMPLES / "latch.toml", EXAMPLES / "flat-loop-2.toml"
OF_ONE_PLAN = [
    name for name in COMMANDS if "plan" in inspect.signature(import_module(f"tickwright.cli.{name}").command).parameters
]
NEEDED = {
    "prove": ("--claim", "settles"),
    "tune": ("--hold", "2 s", "--within", "5 s"),
    "export": ("--svg", "--dry-run"),
}


@pytest.fixture(name="typed")
def what_is_typed(monkeypatch):
    """Give the program a standard input."""

    def type_in(data: bytes) -> None:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))

    return type_in


def test_the_commands_that_take_plans_are_known():
    assert {"run", "measure", "chart", "bill", "prove", "diagnose", "why", "tune", "export"} <= set(OF_ONE_PLAN)


@pytest.mark.parametrize("name", OF_ONE_PLAN)
def test_of_several_plans_each_answers_as_if_alone(call, name):
    words = (*NEEDED.get(name, ()), "--json")
    alone = [call(name, plan, *words) for plan in (LOOP, EXAMPLES / "taps.toml")]
    code, out, err = call(name, LOOP, EXAMPLES / "taps.toml", *words)
    assert (code, err) == (max(answer[0] for answer in alone), "")
    both = json.loads(out)
    assert list(both) == ["plans"]
    timeless = [_without_seconds(json.loads(answer[1])) for answer in alone]
    assert [_without_seconds(one) for one in both["plans"]] == timeless


def _without_seconds(document):
    return {key: value for key, value in document.items() if key != "seconds"}


def test_a_wrong_plan_among_several_is_told_and_the_others_are_done(call, tmp_path):
    wrong = tmp_path / "wrong.toml"
    wrong.write_text('format = "tickwright plan 1"\nlayer = 3\n', encoding="utf-8")
    code, out, err = call("bill", LOOP, wrong, LATCH, "--json")
    assert (code, err) == (2, "")
    first, second, third = json.loads(out)["plans"]
    assert (first["plan"], third["plan"]) == (str(LOOP), str(LATCH))
    assert second == {"plan": str(wrong), "error": json.loads(call("bill", wrong, "--json")[1])["error"]}
    code, out, err = call("bill", LOOP, wrong, LATCH)
    assert code == 2
    assert out.count(" parts of ") == 2
    assert err.startswith(f"tickwright: {wrong}, line 2")


def test_a_folder_stands_for_its_plans(call, tmp_path):
    (tmp_path / "deep").mkdir()
    shutil.copy(LATCH, tmp_path / "b.toml")
    shutil.copy(LOOP, tmp_path / "deep" / "a.toml")
    (tmp_path / "own-rules.toml").write_text('based_on = "standard"\n', encoding="utf-8")
    code, out, _ = call("bill", tmp_path, "--json")
    assert code == 0
    assert [one["plan"] for one in json.loads(out)["plans"]] == [
        str(tmp_path / "b.toml"),
        str(tmp_path / "deep/a.toml"),
    ]
    code, out, _ = call("compare", tmp_path, "--json")
    assert [one["plan"] for one in json.loads(out)["results"]] == [
        str(tmp_path / "b.toml"),
        str(tmp_path / "deep/a.toml"),
    ]
    (tmp_path / "b.toml").unlink()
    assert list(json.loads(call("bill", tmp_path, "--json")[1])) == ["plans"]  # a folder of one is a folder
    (tmp_path / "deep" / "a.toml").unlink()
    code, _, err = call("check", tmp_path)
    assert (code, err) == (
        2,
        f'tickwright: There is no plan in the folder "{tmp_path}", nor one level below: name another one.\n',
    )


@pytest.mark.parametrize("name", [*OF_ONE_PLAN, "check", "compare", "sheet"])
def test_a_plan_comes_from_standard_input(call, typed, name, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    words = (*NEEDED.get(name, ()), *(("--dry-run",) if name == "sheet" else ()), "--json")
    typed(LOOP.read_bytes())
    code, out, err = call(name, "-", *words)
    assert (code, err) == (0, "")
    assert '"-"' in out
    assert list(tmp_path.iterdir()) == []


def test_what_is_wrong_with_standard_input_is_said(call, typed):
    typed(b"\xff")
    assert call("bill", "-")[2].startswith("tickwright: Standard input is not UTF-8 text (byte 0)")
    typed(b'format = "tickwright plan 1"\nlayer = 3\n')
    assert call("bill", "-")[2].startswith("tickwright: standard input, line 2, column")
    assert call("compare", "-", "-")[2] == (
        "tickwright: Standard input can be read only once: name - once among the plans.\n"
    )
    assert call("chart", "-", "--add", "now")[:2] == (2, "")


def test_files_are_written_to_standard_output_and_nothing_else_is(capfdbinary, monkeypatch, tmp_path):
    def written(*words):
        monkeypatch.setattr(sys, "argv", ["tickwright", *map(str, words)])
        from tickwright.cli.app import run_program

        with pytest.raises(SystemExit) as end:
            run_program()
        return end.value.code, capfdbinary.readouterr()

    monkeypatch.chdir(tmp_path)
    code, (out, err) = written("export", LATCH, "--png", "-o", "-")
    assert (code, err, out[:8]) == (0, b"", b"\x89PNG\r\n\x1a\n")
    code, (out, err) = written("run", LATCH, "--vcd", "-")
    assert (code, err, out[:10]) == (0, b"", b"$comment O")
    code, (out, err) = written("check", LATCH, "--junit", "-")
    assert (code, err, out[:5]) == (0, b"", b"<?xml")
    code, (out, err) = written("run", LATCH, "--vcd", "-", "--json")
    assert (code, out.count(b'"error"')) == (2, 1)
    assert b"--vcd and --json both write to standard output" in out
    assert list(tmp_path.iterdir()) == []


def test_one_file_is_not_written_for_several_plans(call, tmp_path):
    code, out, err = call("run", LOOP, LATCH, "--vcd", tmp_path / "both.vcd")
    assert (code, out) == (2, "")
    assert err == "tickwright: --vcd names one file, and there are several plans: give them one by one.\n"
    assert list(tmp_path.iterdir()) == []
    code, out, _ = call("export", LOOP, LATCH, "--csv", "-o", tmp_path)
    assert code == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["flat-loop-2.csv", "latch.csv"]


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("x.gif", "gif"),
        ("x.svg", "svg"),
        ("x-chart.svg", "chart"),
        ("x-bill.csv", "bill"),
        ("x.csv", "csv"),
        ("x.v", "verilog"),
    ],
)
def test_the_name_of_a_file_tells_its_format(call, tmp_path, name, word):
    code, out, _ = call("export", LATCH, "-o", tmp_path / name, "--dry-run", "--json")
    assert (code, json.loads(out)["written"][0]["format"]) == (0, word)


def test_a_name_that_tells_no_format_is_refused(call, tmp_path):
    code, _, err = call("export", LATCH, "-o", tmp_path / "x.doc")
    assert (code, "Give one format to export to" in err) == (2, True)


@pytest.mark.parametrize(
    "words", [("--quiet", "check", LATCH), ("check", LATCH, "--quiet"), ("check", "-q", LOOP, LATCH)]
)
def test_quiet_says_nothing_but_the_exit_code(call, words):
    assert call(*words) == (0, "", "")


def test_quiet_still_gives_what_is_asked_for_and_what_is_wrong(call, tmp_path):
    loud, quiet = call("bill", LATCH, "--json"), call("bill", LATCH, "--json", "--quiet")
    assert quiet == loud
    code, out, err = call("--quiet", "bill", tmp_path / "none.toml")
    assert (code, out, err.count("\n")) == (2, "", 1)


def test_colours_can_be_turned_off(call, monkeypatch):
    class Terminal(io.StringIO):
        encoding = "utf-8"

        def isatty(self):
            return True

    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(style.sys, "stdout", Terminal())
    settings.begin_call()
    assert style.styled("on", "good") == "\033[32mon\033[0m"
    monkeypatch.setenv("NO_COLOR", "1")
    assert style.styled("on", "good") == "on"
    monkeypatch.delenv("NO_COLOR")
    for words in (("check", LATCH, "--no-color"), ("--no-color", "check", LATCH), ("parts", "--no-color")):
        terminal = Terminal()
        monkeypatch.setattr(sys, "stdout", terminal)
        assert call(*words)[0] == 0
        assert "on" in terminal.getvalue()
        assert "\033" not in terminal.getvalue()
    settings.begin_call()
