"""Python as docs/api.md tells it; plans built in code; wrong types refused; what notebooks show."""

from __future__ import annotations

import doctest
import inspect
import json
import pydoc
import re
from pathlib import Path

import pytest

import tickwright
from tickwright import Plan, TickwrightError, Wish, check, choose, compare, load, loads, measure, prove, run
from tickwright.errors import UsageError
from tickwright.plan import dumps

ROOT = Path(__file__).resolve().parents[1]
LOOP = ROOT / "examples" / "flat-loop-2.toml"


def test_the_page_of_the_api_runs_as_it_stands(monkeypatch):
    monkeypatch.chdir(ROOT)
    text = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```python\n(.*?)```", text, re.DOTALL)
    assert len(blocks) > 8
    example = doctest.DocTestParser().get_doctest("\n".join(blocks), {}, "api.md", "api.md", 0)
    told: list[str] = []
    found = doctest.DocTestRunner(verbose=False).run(example, out=told.append)
    assert found.attempted > 20
    assert found.failed == 0, "".join(told)


@pytest.mark.parametrize("name", tickwright.__all__)
def test_help_tells_of_every_export(name):
    value = getattr(tickwright, name)
    text = pydoc.plain(pydoc.render_doc(value))
    assert (inspect.getdoc(value) or "").splitlines()[0] in text
    if inspect.isfunction(value):
        assert f"{name}(" in text
        for parameter in inspect.signature(value).parameters:
            assert parameter in text


def test_a_plan_built_in_code_is_the_plan_of_a_file():
    built = (
        Plan.empty("Lamp")
        .fill((0, 0, 0), (2, 0, 0), "block")
        .row((0, 0, 1), "short-button", None, "lamp")
        .place((1, 0, 1), "repeater east delay=2")
        .trigger("press", (0, 0, 1))
        .output("lamp", (2, 0, 1))
    )
    written = loads(
        'format = "tickwright plan 1"\ntitle = "Lamp"\n'
        '[legend]\n"#" = "block"\nb = "short-button"\nr = "repeater east delay=2"\nL = "lamp"\n'
        '[[layer]]\nrows = "###"\n[[layer]]\nrows = "brL"\n'
        "[triggers]\npress = [0, 0, 1]\n[outputs]\nlamp = [2, 0, 1]\n"
    )
    assert built == written
    assert loads(dumps(built)) == built
    assert built.clear((1, 0, 1)).bill() == {"block": 3, "lamp": 1, "short-button": 1}
    assert built.bill()["repeater"] == 1  # an edit leaves the plan as it is


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (
            lambda: Plan.empty().place((1, 0), "torch"),
            "The cell is (1, 0): write three whole numbers",
        ),
        (lambda: Plan.empty().place((1, 0, -1), "torch"), "The cell is (1, 0, -1)"),
        (lambda: Plan.empty().place((1, 0, True), "torch"), "The cell is (1, 0, True)"),
        (lambda: Plan.empty().place("1,0,0", "torch"), "The cell is '1,0,0'"),
        (lambda: Plan.empty().place((1, 0, 0), 3), "The part is 3: write it as in a plan file"),
        (lambda: Plan.empty().place((1, 0, 0), "troch"), 'There is no part "troch". Did you mean "torch"?'),
        (lambda: Plan.empty().fill((0, 0, 0), (999, 999, 99), "block"), "more than 1,000,000 cells"),
        (lambda: Plan.empty().trigger("a b", (0, 0, 0)), 'The name "a b" must hold letters'),
        (lambda: Plan.empty().output(3, (0, 0, 0)), "The name is 3: write a text."),
        (lambda: Plan.empty(title=None), "The title is None: write a text."),
        (lambda: measure(LOOP), 'give a Plan, which load("FILE") reads.'),
        (lambda: measure(load(LOOP), 3), "measure: trigger is 3: give a text or None."),
        (lambda: run(load(LOOP), steps="20"), "run: steps is '20': give a whole number."),
        (lambda: run(load(LOOP), steps=True), "run: steps is True: give a whole number."),
        (lambda: check(None), "check: plan is None: give a Plan"),
        (lambda: prove(load(LOOP), 1), "prove: claim is 1: give a text."),
        (lambda: run(load(LOOP), "0:press"), "run: hand is '0:press': give a list of which each item is a text or a"),
        (lambda: run(load(LOOP), ["0:press", 3]), "run: hand is ['0:press', 3]: give a list"),
        (lambda: run(load(LOOP), watch={"lamp": (4, 0)}), "each value is a cell, which is three whole numbers"),
        (lambda: compare({"loop": LOOP}), "compare: plans is {'loop':"),
        (lambda: choose(Wish(hold_steps=52.5)), "Wish: hold_steps is 52.5: give a whole number."),
        (lambda: Wish(hold_steps=52, rules="standard"), "Wish: rules is 'standard': give a list of which each item"),
        (lambda: Wish(hold_steps=52, pitch=("x", "3")), "give a tuple of a text and a whole number or None."),
        (lambda: run(load(LOOP)).trace.value_at("lamp", "3"), "value_at: step is '3': give a whole number."),
    ],
)
def test_wrong_types_are_refused_with_a_message(wrong, said):
    with pytest.raises(TickwrightError) as told:
        wrong()
    assert said in str(told.value)


FUNCTIONS = [name for name in tickwright.__all__ if inspect.isfunction(getattr(tickwright, name))]
ARGUMENTS = [(name, one) for name in FUNCTIONS for one in inspect.signature(getattr(tickwright, name)).parameters]


@pytest.mark.parametrize(("name", "parameter"), ARGUMENTS)
def test_every_argument_of_every_export_is_looked_at(name, parameter):
    function = getattr(tickwright, name)
    given = {"plan": load(LOOP), "plans": {"loop": load(LOOP)}, "wish": Wish(hold_steps=60)}
    needed = [
        one.name for one in inspect.signature(function).parameters.values() if one.default is inspect.Parameter.empty
    ]
    with pytest.raises(UsageError, match=rf"^{name}: {parameter} is <object object at .*>: give .*\.$"):
        function(**{one: given[one] for one in needed if one in given} | {parameter: object()})


def test_what_can_be_gone_over_only_once_is_left_whole():
    acts = (f"{step}:press" for step in (0, 200))
    assert [change for change in run(load(LOOP), acts, 300).trace.changes_of("lamp") if change[1]] == [
        (2, 15),
        (202, 15),
    ]


def test_notebooks_are_shown_pictures_lanes_and_tables():
    plan = load(LOOP)
    assert plan._repr_svg_().startswith("<svg")
    played = run(plan, ["0:press"], 80)
    assert "<pre>seconds" in played._repr_html_()
    assert played.trace._repr_html_().startswith("<pre>")
    found = measure(plan, output="lamp")[0]._repr_html_()
    assert "<td>2.6 s (26 ticks)</td>" in found
    assert "<td>proved</td>" in prove(plan, "settles")._repr_html_()


def test_the_notebook_runs_and_shows_what_it_says():
    import nbformat
    from nbclient import NotebookClient

    path = ROOT / "examples" / "notebooks" / "gangway.ipynb"
    book = nbformat.read(path, as_version=4)
    nbformat.validate(book)
    NotebookClient(book, timeout=300, resources={"metadata": {"path": str(path.parent)}}).execute()
    shown = [output for cell in book.cells if cell.cell_type == "code" for output in cell.outputs]
    kinds = {kind for output in shown for kind in output.get("data", {})}
    assert {"image/svg+xml", "text/html", "text/plain"} <= kinds
    assert json.loads(path.read_text(encoding="utf-8"))["cells"][1]["outputs"] == []  # kept without output


def test_the_package_says_that_it_is_typed():
    assert (Path(tickwright.__file__).parent / "py.typed").exists()
