"""`sweep --chart`: a column for each claim, in every form."""

from __future__ import annotations

import csv
import io
import json

import pytest

from charts.landing import LAMP, chart
from tickwright import check_charts, grid, load, sweep
from tickwright.sweeps import left

FIRST = "lamp: on from press + 8 steps for 24 steps, give or take 2 steps"
SECOND = "press: ignored until press + 0.5 s"
# By hand: two repeaters of D and 2 ticks, the lamp 2 (D + 2) steps after the press, 20 of the button and 4 of the lamp.
DELAYS = ["--set", "1,0,1:delay=1..4"]


@pytest.fixture
def lamp(tmp_path):
    path = tmp_path / "lamp.toml"
    path.write_text(LAMP + chart([FIRST, SECOND], hand=["0: press"]), "utf-8")
    return path


def test_json_has_the_claims_of_each_point(call, tmp_path, lamp):
    code, out, err = call("sweep", lamp, "--into", tmp_path / "r.sqlite", *DELAYS, "--chart", "it", "--json")
    assert (code, err) == (0, "")
    rows = json.loads(out)["results"]
    assert [row["chart"] for row in rows] == ["it"] * 4
    assert [row["claims"][0]["passed"] for row in rows] == [True, True, True, False]
    assert [row["claims"][0]["seen"] for row in rows] == [[[2 * delay + 4, 2 * delay + 28]] for delay in (1, 2, 3, 4)]
    assert rows[1]["claims"] == [claim.as_data() | _lists(claim) for claim in check_charts(load(lamp))[0].claims]


def _lists(claim):
    return {"wanted": [list(span) for span in claim.wanted], "seen": [list(span) for span in claim.seen]}


def test_csv_and_table_have_a_column_for_each_claim(call, tmp_path, lamp):
    words = ["sweep", lamp, "--into", tmp_path / "r.sqlite", *DELAYS, "--chart", "it"]
    lines = list(csv.DictReader(io.StringIO(call(*words, "--csv")[1])))
    assert [line[FIRST] for line in lines] == ["passed", "passed", "passed", "failed"]
    second = [line[SECOND] for line in lines]
    assert [line["chart"] for line in lines] == ["it"] * 4
    out = call(*words)[1]
    assert "claim 1" in out
    assert f"claim 1: {FIRST}\nclaim 2: {SECOND}\n" in out
    kept = sum(line[FIRST] == "passed" and one == "passed" for line, one in zip(lines, second, strict=True))
    assert f"All claims are kept at {kept} of 4 points." in out
    assert out.count("FAILED") == 1 + second.count("failed")


def test_a_point_that_the_rules_refuse_says_so(call, tmp_path, lamp):
    words = ["sweep", lamp, "--into", tmp_path / "r.sqlite", "--set", "press:on=down,up", "--chart", "it"]
    rows = json.loads(call(*words, "--json")[1])["results"]
    assert [(row["error"] is None, len(row["claims"]), row["chart"]) for row in rows] == [
        (True, 2, "it"),
        (False, 0, "it"),
    ]
    lines = list(csv.DictReader(io.StringIO(call(*words, "--csv")[1])))
    assert [bool(line["error"]) for line in lines] == [False, True]
    assert "Not judged: 1 point, the first:" in call(*words)[1]


def test_points_know_what_the_chart_says(tmp_path, lamp):
    file = tmp_path / "r.sqlite"
    plan = load(lamp)
    sweep(grid({"lamp": plan}, chart="it"), file, workers=1)
    assert left(grid({"lamp": plan}, chart="it"), file) == []
    assert len(left(grid({"lamp": plan}), file)) == 1
    lamp.write_text(LAMP + chart([FIRST], hand=["0: press"]), "utf-8")
    assert len(left(grid({"lamp": load(lamp)}, chart="it"), file)) == 1


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--chart", "that"], 'has no chart "that"'),
        (["--chart", "it", "--length", "1 s"], "A chart says itself what the hand does"),
        (["--chart", "it", "--do", "0:press", "--for", "1 s"], "A chart says itself what the hand does"),
    ],
)
def test_what_cannot_be_meant_is_refused(call, tmp_path, lamp, words, message):
    code, _, err = call("sweep", lamp, "--into", tmp_path / "r.sqlite", *words)
    assert code == 2
    assert message in " ".join(err.split())


def test_a_claim_that_cannot_be_read_names_its_file_and_line(call, tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text(LAMP + chart(["lamp: on for ever"]), "utf-8")
    code, _, err = call("sweep", path, "--into", tmp_path / "r.sqlite", "--chart", "it")
    assert code == 2
    assert "bad.toml, line 27, column 20: In the claim" in err
