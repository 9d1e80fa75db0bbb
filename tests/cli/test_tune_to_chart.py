"""`tune --chart`, and the claims that `compare` counts."""

from __future__ import annotations

import json

from charts.landing import LAMP, chart
from tickwright import check_charts, load


def test_tune_brings_a_plan_to_its_chart(call, tmp_path):
    path = tmp_path / "lamp.toml"
    path.write_text(
        LAMP + chart(["lamp: on from press + 12 steps for 24 steps", "press: ready from lamp off"]), "utf-8"
    )
    code, out, _ = call("tune", str(path), "--chart", "it", "--save", str(tmp_path / "made"), "--json")
    found = json.loads(out)
    assert (code, found["chart"], found["finished"]) == (0, "it", True)
    assert [claim["passed"] for claim in found["before"]] == [False, False]
    best = found["tuned"][0]
    # A repeater of 4 ticks instead of 2 is 4 steps later.
    assert (best["changes"], best["passed"], best["error_steps"]) == (
        ["set the repeater at (1, 0, 1) to 4 ticks instead of 2"],
        True,
        0,
    )
    assert all(check_charts(load(one["file"]))[0].passed for one in found["tuned"])


def test_tune_says_what_comes_nearest(call, tmp_path):
    path = tmp_path / "lamp.toml"
    path.write_text(LAMP + chart(["lamp: on from press + 3 steps for 9 steps"]), encoding="utf-8")
    code, out, _ = call("tune", str(path), "--chart", "it", "--runs", "30", "--json")
    found = json.loads(out)
    assert (code, found["finished"], found["tuned"][0]["passed"]) == (1, False, False)


def test_tune_wants_a_hold_or_a_chart(call, tmp_path):
    path = tmp_path / "lamp.toml"
    path.write_text(LAMP + chart(["lamp: never on"]), encoding="utf-8")
    assert call("tune", str(path))[0] == 2
    assert call("tune", str(path), "--chart", "it", "--hold", "2 s")[0] == 2
    assert call("tune", str(path), "--chart", "it", "--output", "lamp")[0] == 2
    assert call("tune", str(path), "--chart", "that")[0] == 2


def test_compare_counts_the_claims_kept(call, tmp_path):
    good, bare = tmp_path / "good.toml", tmp_path / "bare.toml"
    claims = ["lamp: on from press + 8 steps for 24 steps", "press: ignored until lamp off"]
    good.write_text(LAMP + chart(claims), encoding="utf-8")
    bare.write_text(LAMP, encoding="utf-8")
    code, out, _ = call("compare", str(good), str(bare), "--json")
    rows = json.loads(out)["results"]
    assert (code, [(row["claims_kept"], row["claims"]) for row in rows]) == (0, [(1, 2), (None, None)])
