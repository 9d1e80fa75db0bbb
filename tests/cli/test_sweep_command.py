"""`tickwright sweep`: what it prints, what it keeps, and what it refuses."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
TAPS = EXAMPLES / "taps.toml"
# By hand: the straight copy of a press of P ticks lasts from its delay S on, the detour's from D + 8 on; so the joined
# wire holds D + 8 + P - S in all, in one pulse if the detour's copy begins before the straight one has ended.
DELAYS = ["--set", "2,0,1:delay=1..2", "--set", "2,2,1:delay=3..4"]


def test_json_has_the_rows_of_the_grid(call, tmp_path):
    file = tmp_path / "bell.sqlite"
    code, out, err = call("sweep", TAPS, "--into", file, *DELAYS, "--length", "6 ticks..10 ticks/4 ticks", "--json")
    assert (code, err) == (0, "")
    document = json.loads(out)
    assert document["into"] == str(file)
    assert len(document["results"]) == 8
    for row in document["results"]:
        straight, detour = (int(row["settings"][f"{cell}:delay"]) for cell in ("2,0,1", "2,2,1"))
        ticks = row["length_steps"] // 2
        joined = next(result for result in row["results"] if result["output"] == "joined")
        assert joined["hold_steps"] == 2 * (detour + 8 + ticks - straight)
        assert len(joined["pulses"]) == (1 if detour + 8 <= straight + ticks else 2)


def test_csv_has_a_line_for_each_output(call, tmp_path):
    out = call("sweep", TAPS, "--into", tmp_path / "bell.sqlite", *DELAYS, "--csv")[1]
    lines = list(csv.DictReader(io.StringIO(out)))
    assert len(lines) == 8
    assert [line["hold_steps"] for line in lines if line["output"] == "joined"] == ["40", "42", "38", "40"]
    assert {line["2,0,1:delay"] for line in lines} == {"1", "2"}


def test_a_dry_run_counts_and_writes_nothing(call, tmp_path):
    file = tmp_path / "bell.sqlite"
    words = ["sweep", TAPS, "--into", file, "--length", "1 tick..5 ticks"]
    assert call(*words, "--dry-run")[1] == f"5 points, 0 in {file} already, 5 left to do.\n"
    assert not file.exists()
    call("sweep", TAPS, "--into", file, "--length", "2 ticks..3 ticks")
    assert json.loads(call(*words, "--dry-run", "--json")[1]) == {"into": str(file), "points": 5, "done": 2, "left": 3}


def test_the_file_alone_gives_all_that_it_holds(call, tmp_path):
    file = tmp_path / "bell.sqlite"
    call("sweep", TAPS, "--into", file, "--length", "2 ticks..3 ticks")
    call("sweep", TAPS, "--into", file, "--do", "0:press", "--do", "20..22:press", "--for", "3 s")
    code, out, _ = call("sweep", "--into", file, "--json")
    rows = json.loads(out)["results"]
    assert code == 0
    assert sorted(str(row["length_steps"]) for row in rows) == ["4", "6", "None", "None", "None"]
    assert [row["acts"][1] for row in rows if row["acts"]] == ["20:press", "21:press", "22:press"]


def test_the_table_shows_what_varies(call, tmp_path):
    out = call("sweep", TAPS, "--into", tmp_path / "bell.sqlite", *DELAYS)[1]
    heads = out.splitlines()[2].split()
    assert "4 points" in out.splitlines()[0]
    assert heads == ["2,0,1:delay", "2,2,1:delay", "stimulus", "output", "kind", "delay", "hold"]
    assert out.endswith("Times assume a world at its full 20 steps a second.\n")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([TAPS], "A sweep keeps its results in a file: give it --into FILE"),
        ([TAPS, "--into", "x.sqlite", "--csv", "--json"], "two forms of one answer"),
        (["--into", "x.sqlite", "--length", "1 s"], "A sweep needs plans"),
        (["--into", "nowhere.sqlite"], 'There is no file "nowhere.sqlite"'),
        ([TAPS, "--into", "no/such/x.sqlite"], "There is no folder"),
        ([TAPS, "--into", "x.sqlite", "--do", "0:press"], "Acts of the hand need to know how long to run"),
        ([TAPS, "--into", "x.sqlite", "--set", "2,0,1:delay=5"], "use 1, 2, 3 or 4"),
        ([TAPS, "--into", "x.sqlite", "--workers", "0"], "A sweep with 0 workers does nothing"),
    ],
)
def test_bad_input_gets_one_message_and_leaves_no_file(call, tmp_path, monkeypatch, words, message):
    monkeypatch.chdir(tmp_path)
    code, out, err = call("sweep", *words)
    said = json.loads(out)["error"]["message"] if "--json" in words else err
    assert (code, err if "--json" in words else out) == (2, "")
    assert message in said
    assert said.strip().count("\n") == 0
    assert list(tmp_path.iterdir()) == []
