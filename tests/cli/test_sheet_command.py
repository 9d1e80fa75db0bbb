"""`tickwright sheet`: the files it says it writes, what it refuses, and that nothing else is touched."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
PLAN = EXAMPLES / "edge-detector.toml"
OTHER = EXAMPLES / "pulse-shortener.toml"
FLOATING = """format = "tickwright plan 1"
legend = {w = "wire"}
layer = [{rows = "."}, {rows = "w"}]
"""


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_it_writes_what_the_dry_run_says(call):
    code, out, _ = call("sheet", PLAN, "-o", "out", "--dry-run", "--json")
    promised = json.loads(out)
    assert (code, promised["dry_run"], Path("out").exists()) == (0, True, False)
    code, out, err = call("sheet", PLAN, "-o", "out", "--json")
    assert (code, err) == (0, "")
    done = json.loads(out)
    certain = [row["file"] for row in promised["written"] if row["certain"]]
    written = [row["file"] for row in done["written"]]
    assert [file for file in written if file in certain] == certain
    assert set(written) <= {row["file"] for row in promised["written"]}
    assert sorted(written) == sorted(str(path) for path in Path("out").iterdir())
    assert all(Path(row["file"]).stat().st_size == row["bytes"] > 0 for row in done["written"])


def test_several_plans_have_folders_of_their_own(call):
    Path("out").mkdir()
    Path("out/mine.txt").write_text("stays", encoding="utf-8")
    other = EXAMPLES / "pulse-shortener.toml"
    code, out, _ = call("sheet", PLAN, other, "-o", "out", "--paper", "letter", "--dark")
    assert code == 0
    assert {path.name for path in Path("out").iterdir()} == {
        "mine.txt", PLAN.stem, other.stem, "together-chart.svg", "together.html",
    }  # fmt: skip
    assert Path("out/mine.txt").read_text(encoding="utf-8") == "stays"
    assert out.splitlines()[-1].endswith("files written.")
    assert b"[0 0 612 792]" in Path("out", PLAN.stem, "sheet.pdf").read_bytes()


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([PLAN, "--paper", "a3"], 'There is no paper "a3": use a4 or letter.'),
        ([PLAN, "same/edge-detector.toml"], "would share one folder"),
        ([PLAN, "-o", "file.txt"], '"file.txt" is a file: name a folder'),
        ([PLAN, "--template", "none.typ"], '"none.typ": No such file'),
        ([PLAN, "--prices", "prices.toml"], "The price table has no price for"),
        ([PLAN, "--template", "bad.typ", "-o", "new"], "The template of the sheet cannot be set"),
        ([PLAN, "--template", "latin.typ"], 'The template "latin.typ" is not UTF-8 text'),
        ([PLAN, "--rules", "none"], 'There is no rule set "none"'),
        ([PLAN, "-o", "file.txt/new"], '"file.txt" is a file: name a folder'),
        ([PLAN, OTHER, "-o", "taken"], '"taken/pulse-shortener" is a file: name a folder'),
        ([PLAN, OTHER, "-o", "folders"], '"folders/together.html": Is a directory'),
        ([PLAN, "unsupported.toml", "-o", "new"], "The wire at (0, 0, 1) has no support"),
        (["none.toml"], 'There is no file "none.toml"'),
    ],
)
def test_bad_input_gets_one_message_and_exit_code_2(call, words, message):
    Path("same").mkdir()
    shutil.copy(PLAN, "same")
    Path("file.txt").write_text("", encoding="utf-8")
    Path("prices.toml").write_text("[prices]\nlamp = 1\n", encoding="utf-8")
    Path("bad.typ").write_text("#let x = (", encoding="utf-8")
    Path("latin.typ").write_bytes("F\u00e4hre".encode("latin-1"))
    Path("taken").mkdir()
    Path("taken", OTHER.stem).write_text("", encoding="utf-8")
    Path("folders", "together.html").mkdir(parents=True)
    Path("unsupported.toml").write_text(FLOATING, encoding="utf-8")
    before = sorted(Path().rglob("*"))
    code, out, err = call("sheet", *words)
    assert (code, out) == (2, "")
    assert message in err
    assert err.count("\n") == 1
    assert sorted(Path().rglob("*")) == before  # nothing half-written


def test_what_was_done_about_flashing_is_told(call, monkeypatch):
    from tickwright.publish import film

    made = film.make_film
    monkeypatch.setattr(film, "make_film", lambda *runs, **look: made(*runs, **look)._replace(note="It was slowed."))
    code, out, _ = call("sheet", PLAN, "-o", "out", "--film")
    assert code == 0
    assert "It was slowed." in out.splitlines()
    assert "<p>It was slowed.</p>" in Path("out/film-storyboard.html").read_text(encoding="utf-8")


def test_a_folder_that_is_named_like_a_file_is_refused(call, tmp_path):
    code, _, said = call("sheet", EXAMPLES / "latch.toml", "-o", tmp_path / "a.pdf")
    assert code == 2
    assert said == (
        f'tickwright: "{tmp_path}/a.pdf" is named like a file, and a sheet is a folder of files: give -o a folder; for '
        f"that one file use tickwright export PLAN --pdf -o {tmp_path}/a.pdf.\n"
    )
    assert not (tmp_path / "a.pdf").exists()
