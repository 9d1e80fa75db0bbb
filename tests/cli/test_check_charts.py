"""`check` and `chart`: what they print, write and leave with."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import pytest

from charts.landing import LAMP, chart
from tickwright import load

GOOD = chart(["lamp: on from press + 8 steps for 24 steps", "press: ready from lamp off"])
BAD = chart(["lamp: on from press + 8 steps for 30 steps"])


def file(tmp_path, name, text):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_check_gives_charts_beside_expectations(call, tmp_path):
    path = file(tmp_path, "lamp.toml", LAMP + GOOD)
    code, out, _ = call("check", path, "--json")
    found = json.loads(out)
    assert (code, found["passed"], found["failed"], found["without"]) == (0, 2, 0, [])
    one = found["charts"][0]
    assert (one["plan"], one["chart"], one["passed"]) == (path, "it", True)
    assert one["claims"][0] == {
        "name": "lamp",
        "claim": "lamp: on from press + 8 steps for 24 steps",
        "passed": True,
        "wanted": [[8, 32]],
        "seen": [[8, 32]],
        "follows": None,
        "detail": "",
    }


def test_check_leaves_with_1_when_a_claim_fails_and_tells_the_difference(call, tmp_path):
    path = file(tmp_path, "lamp.toml", LAMP + BAD)
    junit = tmp_path / "report.xml"
    code, out, _ = call("check", path, "--junit", str(junit))
    assert code == 1
    assert "✗ lamp: on from press + 8 steps for 30 steps" in out
    assert "off at 1.6 s instead of 1.9 s, 6 steps early" in out
    assert f'Replay: tickwright run {path} --do 0:press --for "53 steps"' in out
    suite = ElementTree.parse(junit).getroot()[0]
    assert (suite.get("tests"), suite.get("failures")) == ("1", "1")
    assert suite[0].get("name") == "it: lamp: on from press + 8 steps for 30 steps"
    assert "6 steps early" in suite[0][0].get("message")


def test_a_plan_without_claims_does_not_spoil_the_rest(call, tmp_path):
    good, bare = file(tmp_path, "good.toml", LAMP + GOOD), file(tmp_path, "bare.toml", LAMP)
    code, out, _ = call("check", good, bare, "--json")
    assert (code, json.loads(out)["without"]) == (0, [bare])
    code, out, _ = call("check", good, bare)
    assert (code, "expects nothing" in out) == (0, True)
    code, _, err = call("check", bare)
    assert code == 2
    assert "expects nothing" in err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (chart(["lamp: on form press for 1 s"]), "lamp.toml, line 27, column 20: In the claim of chart"),
        (chart(["lamp: never on"], hand=["0: pres"]), "lamp.toml, line 27, column 9: In the hand of chart"),
    ],
)
def test_a_chart_that_cannot_be_read_is_told_at_its_place(call, tmp_path, text, said):
    code, _, err = call("check", file(tmp_path, "lamp.toml", LAMP + text))
    assert (code, said in err) == (2, True), err


def test_chart_writes_what_the_plan_does_and_adds_it(call, tmp_path):
    path = file(tmp_path, "lamp.toml", LAMP)
    code, out, _ = call("chart", path, "--json")
    found = json.loads(out)
    assert code == 0
    assert found["chart"] == {
        "name": "now",
        "starts": "at rest",
        "hand": ["0: press"],
        "watch": "3 s",
        "shows": ["lamp: on from press + 0.4 s for 1.2 s"],
    }
    code, out, _ = call("chart", path, "--do", "0:press", "--do", "60:press", "--for", "6 s", "--add", "twice")
    assert code == 0
    assert Path(path).read_text(encoding="utf-8").startswith(LAMP)
    assert load(path).charts[0].shows == ("lamp: on from press + 0.4 s for 1.2 s",)  # each time it is pressed
    assert call("check", path)[0] == 0
    code, _, err = call("chart", path, "--add", "twice")
    assert (code, 'has a chart "twice" already' in err) == (2, True)


def test_chart_refuses_acts_that_mean_nothing(call, tmp_path):
    path = file(tmp_path, "lamp.toml", LAMP)
    code, _, err = call("chart", path, "--do", "0:pres")
    assert (code, "neither a trigger" in err) == (2, True)
    code, _, err = call("chart", path, "--for", "0 s")
    assert (code, "no time" in err) == (2, True)
