"""Charts of runs: what is written on them, and that lengths on the page are lengths of time."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from golden import hold_to
from tickwright import load, loads, measure
from tickwright.errors import UsageError
from tickwright.measurement import LengthRow, Pulse, find_trigger, lap_table, length_map
from tickwright.plan.setup import Setup
from tickwright.publish import THEMES, Band, Drawing, lap_chart, length_chart, svg_text, timing_chart
from tickwright.recording import record

HERE = Path(__file__).resolve().parent
EXAMPLES = HERE.parents[1] / "examples"
SVG = "{http://www.w3.org/2000/svg}"
BUTTON_AND_LAMP = """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", L = "lamp"}
layer = [{rows = "#"}, {rows = "bL"}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [1, 0, 1]}
"""


def texts(drawing: Drawing) -> list[str]:
    return [mark.text for group in drawing.groups for mark in group.marks if mark.form == "text"]


def place(drawing: Drawing, text: str) -> tuple[float, float]:
    return next(mark.points[0] for group in drawing.groups for mark in group.marks if mark.text == text)


def bars(drawing: Drawing, lane: str) -> list[tuple[float, float]]:
    """Left and right edge of each coloured bar of a lane."""
    (group,) = (group for group in drawing.groups if group.label.startswith(f"{lane}, "))
    return [(mark.points[0][0], mark.points[1][0]) for mark in group.marks if mark.form == "area"]


def test_durations_are_written_and_drawn_as_long_as_they_are():
    # The button lasts 20 steps, the lamp 4 longer (rules.md): 1 s, and 1.2 s from the same moment on.
    drawing = timing_chart({"lamp": record(loads(BUTTON_AND_LAMP))})
    assert {"1 s", "1.2 s", "press", "lamp"} <= set(texts(drawing))
    ((left, right),) = bars(drawing, "press")
    ((lamp_left, lamp_right),) = bars(drawing, "lamp")
    second = place(drawing, "1 s")[0] - place(drawing, "0 s")[0]
    assert (left, lamp_left) == pytest.approx((place(drawing, "0 s")[0],) * 2)
    # A bar of levels ends a pixel before the next one.
    assert (right - left + 1, lamp_right - lamp_left) == pytest.approx((second, 1.2 * second))
    assert "lamp, output: on at 0 s for 1.2 s." in drawing.description


def test_levels_are_written_on_their_bars():
    drawing = timing_chart({"loop": record(load(EXAMPLES / "flat-loop-6.toml"))})
    (entry,) = (group for group in drawing.groups if group.label.startswith("entry, "))
    numbers = [int(mark.text) for mark in entry.marks if mark.form == "text" and mark.text.isdigit()]
    assert numbers == [15, 13, 11, 9, 7, 5, 3, 1]  # two levels lost a turn: fact 5 of rules.md


def test_several_designs_share_one_clock_that_begins_at_the_press():
    one = record(load(EXAMPLES / "flat-loop-6.toml"), ["40:press"])
    other = record(load(EXAMPLES / "stacked-loop-3.toml"), ["3:press"])
    drawing = timing_chart({"flat": one, "stacked": other})
    edges = [
        mark.points[0][0]
        for group in drawing.groups
        if group.label.startswith("press, trigger")
        for mark in group.marks
        if mark.form == "area"
    ]
    assert len(edges) == 2
    assert edges[0] == pytest.approx(edges[1])
    assert texts(drawing).count("5.4 s") == 2  # the same hold: fact 5 of rules.md
    assert {"flat", "stacked"} <= set(texts(drawing))


def test_of_a_clock_the_beginning_is_shown_and_said_to_go_on():
    drawing = timing_chart({"<ring> & co": record(load(EXAMPLES / "torch-clock.toml"))})
    assert len(bars(drawing, "beat")) in (12, 13)
    assert "<ring> & co: goes on after what is shown." in texts(drawing)
    right = max(x for group in drawing.groups for mark in group.marks for x, _ in mark.points)
    assert right <= drawing.width
    ET.fromstring(svg_text(drawing))


def test_what_comes_to_rest_is_shown_to_its_end():
    run = record(loads(BUTTON_AND_LAMP), [f"{40 * n}:press" for n in range(15)])
    drawing = timing_chart({"lamp": run})
    assert len(bars(drawing, "lamp")) == 15
    assert "lamp: goes on after what is shown." not in texts(drawing)


def test_what_does_not_end_and_what_does_not_come_is_said():
    latch = record(load(EXAMPLES / "latch.toml"))
    drawing = timing_chart({"latch": latch})
    assert "still on" in texts(drawing)
    assert "and still on at the end" in drawing.description
    assert "reset, trigger: no pulse." in drawing.description


def test_laps_fall_from_left_to_right_in_the_order_in_which_the_level_comes():
    plan = load(EXAMPLES / "flat-loop-6.toml")
    rules = record(plan).rules
    setup = Setup(plan, rules)
    laps = lap_table(setup, find_trigger(setup, "press"))
    drawing = lap_chart("press", laps)
    rows = [group for group in drawing.groups if group.label]
    assert len(rows) == 6
    first = [mark for mark in rows[0].marks if mark.text.isdigit()]
    assert [int(mark.text) for mark in first] == [15, 13, 11, 9, 7, 5, 3, 1]
    assert sorted(mark.points[0][0] for mark in first) == [mark.points[0][0] for mark in first]
    begins = [next(lap.levels[1][0] for lap in laps if str(lap.cell) in row.label) for row in rows]
    assert begins == sorted(begins)
    turns = [int(text) for text in texts(drawing)[texts(drawing).index("turn") + 1 :][:8]]
    assert turns == list(range(1, 9))


def test_a_map_of_lengths_has_a_mark_for_each_and_names_the_minimum():
    plan = load(EXAMPLES / "stacked-loop-3.toml")
    rules = record(plan).rules
    setup = Setup(plan, rules)
    trigger = find_trigger(setup, "press")
    rows = length_map(setup, trigger, ["entry"])
    minimum = {one.output: one.minimum_trigger_steps for one in measure(plan, "press")}
    drawing = length_chart("press", rows, trigger.length_steps, minimum)
    (panel,) = (group for group in drawing.groups if group.label)
    dots = [mark for mark in panel.marks if mark.form == "circle"]
    assert len(dots) == sum(len(row.pulses) == 1 for row in rows["entry"])
    assert "minimum trigger 3 ticks" in texts(drawing)  # as many ticks as comparators: fact 4 of rules.md


def test_each_kind_of_answer_has_its_mark():
    rows = [
        LengthRow(1, "none", None, None, ()),
        LengthRow(2, "one-shot", 2, 10, (Pulse(2, 10),)),
        LengthRow(3, "train", 2, 20, (Pulse(2, 4), Pulse(10, 12))),
        LengthRow(4, "latched", 2, None, (Pulse(2, None),)),
    ]
    drawing = length_chart("press", {"lamp": rows, "bell": rows[:1]})
    panels = [group for group in drawing.groups if group.label]
    assert len(panels) == 1
    marks = panels[0].marks
    assert len([mark for mark in marks if mark.form == "circle"]) == 2  # the ring and the dot
    assert len([mark for mark in marks if mark.form == "area" and len(mark.points) == 3]) == 1
    assert "bell: 1 steps give none." in texts(drawing)


def test_a_promise_is_a_band_behind_its_lane_and_what_is_missing_is_hatched_in_red():
    run = record(loads(BUTTON_AND_LAMP))
    band = Band(0, 34, "wanted: 1.7 s from press", "0.5 s short", 24)
    ghost = Band(0, 34, "with a long-button: 1.7 s", ghost=True)
    drawing = timing_chart({"lamp": run}, bands={"lamp": [band, ghost]})
    (group,) = (group for group in drawing.groups if group.label.startswith("lamp, "))
    assert group.label.endswith("; wanted: 1.7 s from press, 0.5 s short; with a long-button: 1.7 s")
    colours = THEMES["light"]
    red = [mark for mark in group.marks if colours["bad"] in (mark.fill, mark.stroke)]
    axis = place(drawing, "0 s")[0], place(drawing, "1 s")[0] - place(drawing, "0 s")[0]
    hatched = [x for mark in red if mark.form != "text" for x, _ in mark.points]
    assert (min(hatched), max(hatched)) == pytest.approx((axis[0] + 1.2 * axis[1], axis[0] + 1.7 * axis[1]))
    assert [mark.text for mark in red if mark.form == "text"] == ["0.5 s short"]
    dashed = [mark for one in drawing.groups for mark in one.marks if mark.dashed]
    assert {mark.stroke for mark in dashed} == {colours["accent"]}  # dashes mean a ghost, and nothing else
    assert len(dashed) == 1


def test_nothing_to_chart_is_said():
    plan = loads(BUTTON_AND_LAMP.replace("triggers = {press = [0, 0, 1]}\noutputs = {lamp = [1, 0, 1]}\n", ""))
    with pytest.raises(UsageError, match="the plan names neither a trigger nor an output"):
        timing_chart({"bare": record(plan)})
    with pytest.raises(UsageError, match="no comparator of the plan shows another level"):
        lap_chart("press", [])
    with pytest.raises(UsageError, match='No length of the trigger "press" gives a hold that ends'):
        length_chart("press", {"lamp": []})


def test_charts_are_as_they_were_looked_at():
    plan = load(EXAMPLES / "stacked-loop-3.toml")
    recording = record(plan)
    setup = Setup(plan, recording.rules)
    trigger = find_trigger(setup, "press")
    made = {
        "chart": timing_chart({plan.title: recording}),
        "laps": lap_chart("press", lap_table(setup, trigger), "dark"),
        "lengths": length_chart("press", length_map(setup, trigger, ["lamp", "entry"])),
    }
    for name, drawing in made.items():
        hold_to(HERE / "golden" / f"stacked-loop-3-{name}.svg", svg_text(drawing))
