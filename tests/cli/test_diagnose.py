"""`tickwright diagnose` and `explain`: what they print, their documents, and Ctrl-C."""

from __future__ import annotations

import importlib
import json
import re
import signal

import pytest

from tickwright import diagnose, load
from tickwright.diagnosis import CODES
from tickwright.diagnosis.cases import cases


@pytest.fixture(name="backwards")
def backwards_file(tmp_path):
    path = tmp_path / "backwards.toml"
    path.write_text(cases()["output-unreached"].wrong.text(), encoding="utf-8")
    return path


def test_diagnose_prints_the_finding_and_the_edit_that_mends_it(call, backwards):
    code, out, err = call("diagnose", backwards)
    assert (code, err) == (0, "")
    assert out == (
        "error: Nothing that a trigger changes comes to the output lamp at (3, 0, 1): on the way from the triggers the "
        "part nearest to it that is reached stands at (0, 0, 1). (output-unreached)\n"
        "  Turn the repeater at (2, 0, 1) to face east. Tried: it mends this and harms nothing.\n"
        "    place repeater east at (2, 0, 1)\n"
        "1 finding.\n"
        "tickwright explain CODE tells a finding at length, with an example.\n"
    )


def test_diagnose_as_a_document(call, backwards):
    code, out, _ = call("diagnose", backwards, "--json")
    document = json.loads(out)
    assert (code, document["plan"], document["rules"], document["stopped"]) == (0, str(backwards), "standard", False)
    assert [finding["code"] for finding in document["findings"]] == ["output-unreached"]
    assert document["findings"][0]["repair"] == {
        "text": "Turn the repeater at (2, 0, 1) to face east.",
        "edits": [{"verb": "place", "cell": [2, 0, 1], "part": "repeater east"}],
        "verified": True,
    }


@pytest.mark.parametrize("words", [["run"], ["measure"], ["measure", "--full"]])
def test_other_commands_show_findings_briefly(call, backwards, words):
    code, out, _ = call(words[0], backwards, *words[1:])
    assert code == 0
    assert "error: Nothing that a trigger changes comes to the output lamp at (3, 0, 1)" in out
    assert json.loads(call(words[0], backwards, *words[1:], "--json")[1])["findings"][0]["code"] == "output-unreached"


def test_check_shows_findings_briefly(call, backwards):
    wish = '\n[[expect]]\ntrigger = "press"\noutput = "lamp"\nnever = true\n'
    backwards.write_text(backwards.read_text(encoding="utf-8") + wish, encoding="utf-8")
    code, out, _ = call("check", backwards)
    assert code == 0
    assert "  error: Nothing that a trigger changes" in out
    findings = json.loads(call("check", backwards, "--json")[1])["findings"]
    assert {finding["plan"] for finding in findings} == {str(backwards)}
    assert findings[0]["code"] == "output-unreached"


def test_explain_lists_every_code(call):
    code, out, _ = call("explain")
    assert code == 0
    assert all(f" {name} " in out for name in CODES)
    assert [entry["code"] for entry in json.loads(call("explain", "--json")[1])] == list(CODES)


def test_explain_shows_the_example_the_repair_and_the_twin(call):
    code, out, _ = call("explain", "output-unreached")
    assert code == 0
    entry = CODES["output-unreached"]
    shown = (entry.title, entry.cause, entry.helps, "rows = ", "Repaired so", "A near twin that has not: the repeater")
    assert [text for text in shown if text not in out] == []
    document = json.loads(call("explain", "output-unreached", "--json")[1])
    assert document["outputs"]["shown"]["lamp"] == [[0, 0]]
    assert document["outputs"]["repaired"]["lamp"] == [[0, 0], [2, 15], [26, 0]]


def test_explain_answers_a_near_miss_with_the_near_ones(call):
    code, out, err = call("explain", "loop-never-fade")
    assert (code, out) == (2, "")
    assert err == 'tickwright: There is no finding "loop-never-fade". Did you mean "loop-never-fades"?\n'


def test_stopped_by_hand_it_keeps_what_it_found(monkeypatch, call, backwards):
    command = importlib.import_module("tickwright.cli.diagnose")

    def interrupted(*words, progress, **options):
        def told(text: str) -> bool:
            if text == "output too far":
                signal.raise_signal(signal.SIGINT)  # as Ctrl-C after the first finder
            return progress(text)

        return diagnose(*words, progress=told, **options)

    monkeypatch.setattr(command, "diagnose", interrupted)
    code, out, err = call("diagnose", backwards)
    assert (code, err) == (130, "Stopped.\n")
    assert "(output-unreached)" in out
    assert "1 finding. Stopped before all was looked at." in out


def test_what_if_prints_each_symptom_with_its_mistakes(call, backwards):
    code, out, _ = call("diagnose", backwards, "--what-if")
    assert code == 0
    assert "press -> lamp, as planned: never on" in out
    assert (
        "    the repeater at (2, 0, 1) faces east instead of west: hold 1.2 s (12 ticks), delay 0.1 s (1 tick)" in out
    )
    document = json.loads(call("diagnose", backwards, "--what-if", "--json")[1])
    assert document["plan"] == str(backwards)
    assert not document["stopped"]
    turned = [one for one in document["mistakes"] if one["text"].endswith("faces east instead of west")]
    assert turned[0]["answers"][0]["symptom"] == "comes-on"


def test_observed_prints_the_causes_where_to_look_and_what_tells_most(call, backwards):
    # Built as planned the lamp stays dark; it lights if the repeater was laid the other way round.
    code, out, _ = call("diagnose", backwards, "--observed", "hold 1.2 s", "--tolerance", "0 steps")
    assert code == 0
    assert re.sub(r"\n\d+ builds", "\nN builds", out) == (
        "Observed: press -> lamp: hold 1.2 s (12 ticks)\n"
        "N builds were run; 1 explains it, times within 0 s (0 ticks).\n"
        "  1. the repeater at (2, 0, 1) faces east instead of west (fits exactly)\n"
        "     look at the repeater at (2, 0, 1): it belongs facing west\n"
    )


def test_observed_as_a_document(call, backwards):
    code, out, _ = call("diagnose", backwards, "--observed", "hold 1.2 s", "--observed", "delay 1 tick", "--json")
    document = json.loads(out)
    assert (code, document["plan"], document["as_planned"]) == (0, str(backwards), False)
    assert document["causes"][0]["text"] == "the repeater at (2, 0, 1) faces east instead of west"
    assert [one["what"] for one in document["observed"]] == ["hold", "delay"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--only", "lamp-flashes"], "--only goes with --mend: say which file to write."),
        (["--mend", "x.toml", "--only", "lamp"], 'There is no finding "lamp".'),
        (["--pairs"], "--pairs goes with --observed: say what the build does."),
        (["--observed", "hold 2 s", "--what-if"], "--observed goes without --what-if, --mend and --trigger"),
        (["--what-if", "--mend", "x.toml"], "--what-if mends nothing: give it without --mend."),
        (["--what-if", "--tolerance", "1 s"], "--tolerance goes with --observed: say what the build does."),
        (["--observed", "hold 2 s", "--only", "lamp-flashes"], "--only goes with --mend: say which file to write."),
        (["--mend", "no-such-folder/x.toml"], '"no-such-folder/x.toml": No such file or directory.'),
        (["--observed", "lamp hold"], '"lamp hold" says nothing that can be looked for'),
    ],
)
def test_bad_usage_is_one_message(call, backwards, words, message):
    code, out, err = call("diagnose", backwards, *words)
    assert (code, out) == (2, "")
    assert err.startswith(f"tickwright: {message}")
    assert err.count("\n") == 1


def test_mend_writes_the_plan_with_its_repairs_done_and_keeps_its_text(call, backwards, tmp_path):
    backwards.write_text("# The gangway lamp.\n" + backwards.read_text(encoding="utf-8"), encoding="utf-8")
    goal = tmp_path / "mended.toml"
    code, out, _ = call("diagnose", backwards, "--mend", goal)
    assert code == 0
    assert out == (
        f"output-unreached: Turn the repeater at (2, 0, 1) to face east.\n{goal}: written, repairs done: 1.\n"
    )
    assert goal.read_text(encoding="utf-8").startswith("# The gangway lamp.\n")
    assert str(load(goal).cells[2, 0, 1]) == "repeater east"
    assert json.loads(call("diagnose", goal, "--json")[1])["findings"] == []
    again = json.loads(call("diagnose", goal, "--mend", tmp_path / "again.toml", "--json")[1])
    assert (again["written"], again["done"], again["left"]) == (None, [], [])
    assert not (tmp_path / "again.toml").exists()


def test_mend_only_what_is_asked_for(call, backwards, tmp_path):
    code, out, _ = call("diagnose", backwards, "--mend", tmp_path / "it.toml", "--only", "lamp-flashes")
    assert code == 0
    assert out.startswith("No repair to do: nothing written.\nLeft:\n  error: Nothing that a trigger changes")


@pytest.mark.parametrize(
    ("name", "words", "kept"),
    [("what_if", ["--what-if"], "of 7 mistakes"), ("find_causes", ["--observed", "hold 1.2 s"], "7 builds were run")],
)
def test_long_jobs_stopped_by_hand_keep_what_they_have(monkeypatch, call, backwards, name, words, kept):
    command = importlib.import_module("tickwright.cli.diagnose")
    whole = getattr(command, name)

    def interrupted(*given):
        *others, progress = given

        def told(text: str) -> bool:
            if text.startswith("7 of"):
                signal.raise_signal(signal.SIGINT)  # as Ctrl-C after seven builds
            return progress(text)

        return whole(*others, told)

    monkeypatch.setattr(command, name, interrupted)
    code, out, err = call("diagnose", backwards, *words)
    assert (code, err) == (130, "Stopped.\n")
    assert "Stopped before all" in out
    assert kept in out
