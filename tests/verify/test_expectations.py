"""Every key of an expectation, met and missed, on circuits whose answers are plain."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest

from tickwright import check, load, loads, run
from tickwright.errors import UsageError
from tickwright.plan import Expectation
from tickwright.verify import junit_text

HEAD = 'format = "tickwright plan 1"\n'
# Button, two-tick repeater, wire, lamp: on 4 steps after the press, 20 + 4 steps long, at rest when the lamp is dark.
# South of the button a comparator, which hears presses of 3 steps and more.
LAMP = (
    HEAD
    + """legend = {"#" = "block", b = "short-button", c = "comparator south", r = "repeater east delay=2", """
    + """w = "wire", L = "lamp"}
layer = [{rows = "######\\n#\\n#"}, {rows = "brwL.L\\nc\\nw"}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [3, 0, 1], wire = [2, 0, 1], far = [5, 0, 1], hears = [0, 2, 1]}
[[expect]]
trigger = "press"
"""
)


def verdict(*lines: str):
    (found,) = check(loads(LAMP + "\n".join(lines)))
    return found.passed, found.expected, found.measured


@pytest.mark.parametrize(
    ("output", "lines", "passed", "measured"),
    [
        ("lamp", ['hold = "12 ticks"'], True, "1.2 s (12 ticks)"),
        ("lamp", ['hold = "13 ticks"'], False, "1.2 s (12 ticks)"),
        ("lamp", ['hold = "13 ticks"', 'within = "1 tick"'], True, "1.2 s (12 ticks)"),
        ("lamp", ['hold = "13 ticks"', 'within = "1 step"'], False, "1.2 s (12 ticks)"),
        ("far", ['hold = "13 ticks"'], False, "never comes on"),
        ("lamp", ['delay = "4 steps"'], True, "0.2 s (2 ticks)"),
        ("lamp", ['delay = "3 steps"'], False, "0.2 s (2 ticks)"),
        ("far", ['delay = "3 steps"'], False, "never comes on"),
        ("lamp", ["pulses = 1"], True, "1"),
        ("lamp", ["pulses = 2"], False, "1"),
        ("far", ["pulses = 0"], True, "0"),
        ("wire", ["level_at_least = 15"], True, "15"),
        ("far", ["level_at_least = 1"], False, "0"),
        ("far", ["never = true"], True, "never comes on"),
        ("lamp", ["never = true"], False, "comes on after 0.2 s (2 ticks)"),
        ("lamp", ['settles_within = "28 steps"'], True, "1.4 s (14 ticks)"),
        ("lamp", ['settles_within = "27 steps"'], False, "1.4 s (14 ticks)"),
        # The repeater gives two ticks at least, of any press; the hold of a longer one grows with it.
        ("lamp", ['minimum_trigger_at_most = "1 step"'], True, "0.05 s (0.5 ticks)"),
        ("hears", ['minimum_trigger_at_most = "3 steps"'], True, "0.15 s (1.5 ticks)"),
        ("hears", ['minimum_trigger_at_most = "2 steps"'], False, "0.15 s (1.5 ticks)"),
        ("far", ['minimum_trigger_at_most = "3 steps"'], False, "no trigger length works"),
        # A press at the lamp's last off, step 28, lights it again 4 steps later: all as the first time.
        ("lamp", ['recovery = "0 s"'], True, "0 s (0 ticks)"),
        ("lamp", ['recovery = "1 tick"'], False, "0 s (0 ticks)"),
        ("far", ['recovery = "1 tick"'], False, "gives no single pulse that ends"),
    ],
)
def test_each_key_is_met_or_missed(output, lines, passed, measured):
    found = verdict(f'output = "{output}"', *lines)
    assert (found[0], found[2]) == (passed, measured)


def test_a_loop_that_stays_on_never_ends_but_is_at_rest():
    loop = loads(
        HEAD
        + """legend = {"#" = "block", l = "lever", r = "repeater east", "<" = "repeater west", w = "wire"}
layer = [{rows = "######\\n.#####"}, {rows = "lwwrww\\n.wwww<"}]
"""
        + "triggers = {go = [0, 0, 1]}\noutputs = {beat = [4, 0, 1]}\n"
        + '[[expect]]\ntrigger = "go"\noutput = "beat"\npulses = 1\nhold = "1 s"\nsettles_within = "1 s"\n'
    )
    found = {verdict.key: (verdict.passed, verdict.measured) for verdict in check(loop)}
    assert found["hold"] == (False, "never ends (latched)")
    assert found["settles_within"][0]


def test_a_plan_that_expects_nothing_is_told_so():
    with pytest.raises(UsageError, match="The plan expects nothing"):
        check(loads(LAMP.replace('[[expect]]\ntrigger = "press"\n', "")))


def test_the_report_counts_and_quotes_and_keeps_to_xml():
    plan = loads(LAMP + 'output = "lamp"\nhold = "12 ticks"\npulses = 3\n')
    text = junit_text({'landing <"&\x00>.toml': check(plan)})
    suite = ElementTree.fromstring(text).find("testsuite")
    assert suite is not None
    assert suite.attrib == {
        "name": 'landing <"&>.toml', "tests": "2", "failures": "1", "errors": "0", "skipped": "0",
    }  # fmt: skip
    assert [case.get("name") for case in suite] == ["press -> lamp: hold", "press -> lamp: pulses"]
    assert [failure.get("message") for failure in suite.iter("failure")] == ["expected 3, measured 1"]


def test_the_report_keeps_to_the_published_schema():
    """Source: junit-10.xsd of the pytest source distribution; .ci/run unpacks it."""
    schema = os.environ.get("TICKWRIGHT_JUNIT_XSD")
    if not schema and os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):
        pytest.fail("TICKWRIGHT_JUNIT_XSD names no schema, and TICKWRIGHT_REQUIRE_TOOLS says it must be there")
    if not schema:
        pytest.skip("TICKWRIGHT_JUNIT_XSD does not name junit-10.xsd of pytest's source distribution")
    plan = loads(LAMP + 'output = "lamp"\nhold = "12 ticks"\npulses = 3\n')
    from xmlschema import XMLSchema  # slow to load, and needed here only

    XMLSchema(schema).validate(junit_text({"landing.toml": check(plan)}))


def test_the_lowest_level_counts_of_one_that_falls():
    """A wire of a ring shows 15 first and less with each round; the levels are those of a run."""
    ring = load(Path(__file__).resolve().parents[2] / "examples" / "flat-loop-2.toml")
    lowest_of = {}
    for cell, part in ring.cells.items():
        if part.kind == "wire":
            trace = run(ring, ["40:press"], 400, watch={"wire": cell}).trace
            lit = {level for step, level in trace.changes_of("wire") if level and step >= 40}
            lowest_of[cell] = (min(lit, default=0), max(lit, default=0))
    cell, (lowest, highest) = max(lowest_of.items(), key=lambda one: one[1][1] - one[1][0])
    assert 0 < lowest < highest
    for level, passed in ((lowest, True), (lowest + 1, False)):
        wish = Expectation(trigger="press", output="wire", level_at_least=level)
        (verdict,) = check(replace(ring, outputs={"wire": cell}, expectations=(wish,), charts=()))
        assert (verdict.passed, verdict.measured) == (passed, str(lowest))
