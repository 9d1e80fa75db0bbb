"""`tickwright export`: one format a call, written whole; what it would do, and what it refuses."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tickwright import load
from tickwright.exporting import FORMATS, Export
from tickwright.workbench import work

PLAN = Path(__file__).resolve().parents[2] / "examples" / "pulse-shortener.toml"


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("form", FORMATS.values(), ids=lambda form: form.word)
def test_every_format_is_written_where_it_says_and_the_same_each_time(call, form):
    code, out, err = call("export", PLAN, f"--{form.word}", "--json")
    assert (code, err) == (0, "")
    (written,) = json.loads(out)["written"]
    file = Path(written["file"])
    assert (file.name, written["format"]) == (PLAN.stem + form.suffix, form.word)
    data = file.read_bytes()
    assert written["bytes"] == len(data) > 0
    assert call("export", PLAN, f"--{form.word}", "-o", "again")[0] == 0
    assert Path("again").read_bytes() == data
    assert sorted(path.name for path in Path.cwd().iterdir()) == sorted([file.name, "again"])


@pytest.mark.parametrize("form", FORMATS.values(), ids=lambda form: form.word)
def test_a_dry_run_writes_nothing(call, folder, form):
    code, out, _ = call("export", PLAN, f"--{form.word}", "--dry-run")
    assert (code, out) == (0, f"{PLAN.stem}{form.suffix} would be written.\n")
    assert list(folder.iterdir()) == []


def test_the_acts_and_the_length_of_the_run_are_the_users(call):
    (trigger,) = load(PLAN).triggers
    assert call("export", PLAN, "--csv", "--do", f"10:{trigger}", "--for", "60 steps", "-o", "levels.csv")[0] == 0
    with Path("levels.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["step"] for row in rows if row[trigger] == "15"][0] == "10"  # noqa: RUF015 - the first of them
    assert rows[-1]["step"] == "59"


def test_an_older_file_is_replaced_and_the_plan_never(call, tmp_path):
    copy = tmp_path / "plan.toml"
    copy.write_bytes(PLAN.read_bytes())
    Path("out.csv").write_text("old", encoding="utf-8")
    assert call("export", copy, "--bill", "-o", "out.csv")[0] == 0
    assert Path("out.csv").read_text(encoding="utf-8").startswith("part,number,price,cost\n")
    code, _, err = call("export", copy, "--bill", "-o", copy)
    assert (code, copy.read_bytes()) == (2, PLAN.read_bytes())
    assert "is the plan itself" in err


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([], "Give one format to export to, and only one: --svg"),
        (["--vcd", "--csv"], "Give one format to export to, and only one: --svg"),
        (["--vcd", "--for", "2 h"], "A run of 144000 steps cannot be recorded whole: use 1 to 20,000 steps"),
        (["--csv", "-o", "no/such/folder.csv"], '"no/such/folder.csv": No such file or directory. Check the path'),
        (["--mp4", "-o", "no/film.mp4", "--dry-run"], '"no/film.mp4": No such file or directory. Check the path'),
        (["--csv", "--do", "0:prest"], "neither a trigger of the plan nor a cell"),
    ],
)
def test_bad_input_gets_one_message_and_exit_code_2(call, words, message):
    code, out, err = call("export", PLAN, *words)
    assert (code, out) == (2, "")
    assert message in err
    assert err.count("\n") == 1


def test_letters_that_no_font_has_are_told_where_our_fonts_show_them(call, monkeypatch):
    from tickwright.publish import raster

    titled = PLAN.read_text(encoding="utf-8").replace('title = "', 'title = "渡し場 ', 1)
    Path("plan.toml").write_text(titled, encoding="utf-8")
    monkeypatch.setattr(raster, "letters_without_font", lambda text: "渡" if "渡" in text else "")
    note = "plan.toml: no font of this machine has 渡, which the title holds"
    code, out, _ = call("export", "plan.toml", "--png")
    assert code == 0
    assert out.splitlines()[1].startswith(note)
    assert json.loads(call("export", "plan.toml", "--pdf", "--json")[1])["notes"][0].startswith(note)
    assert call("export", "plan.toml", "--svg")[1].count("\n") == 1  # its letters are left to who shows it
    assert note in call("sheet", "plan.toml", "--dry-run")[1]


@pytest.mark.parametrize("word", ["svg", "chart", "lengths", "laps", "vcd", "csv", "verilog", "glb", "bill"])
def test_the_workbench_makes_the_same_file(call, word):
    assert call("export", PLAN, f"--{word}", "-o", "file")[0] == 0
    made, note = work.export(lambda _: False, word, Export(load(PLAN), name=PLAN.stem))
    assert (made, note) == (Path("file").read_bytes(), "")


def test_a_folder_with_a_slash_at_its_end_is_made_when_it_is_written_to(call, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    plans = [PLAN, PLAN.with_name("latch.toml")]
    assert call("export", *plans, "--svg", "-o", "new/pictures/", "--dry-run")[::2] == (0, "")
    assert not Path("new").exists()
    assert call("export", *plans, "--svg", "-o", "new/pictures/")[::2] == (0, "")
    assert sorted(path.name for path in Path("new/pictures").iterdir()) == ["latch.svg", "pulse-shortener.svg"]
    Path("file").touch()
    code, _, err = call("export", plans[0], "--svg", "-o", "file/")
    assert (code, err) == (2, 'tickwright: "file" is a file: name a folder to write to.\n')
    code, _, err = call("export", *plans, "--svg", "-o", "one")
    assert (code, "names one file, and there are several plans" in err) == (2, True)
