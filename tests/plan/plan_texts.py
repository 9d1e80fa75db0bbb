"""Texts and strategies that the tests of plans share."""

from __future__ import annotations

from hypothesis import strategies as st

from tickwright.kinds import PARTS, parse_part
from tickwright.plan import Expectation, Plan

LANDING = '''\
format = "tickwright plan 1"
title = "Gangway lamp"

# what is used at the landing
[legend]
"#" = "block"
"w" = "wire"                  # copper
"b" = "short-button on=down"
"r" = "repeater east delay=2"
"c" = "comparator east mode=difference"

[[layer]]   # the quay
rows = """
####
"""

[[layer]]
rows = """
brcw
"""   # along the rail

# names
[triggers]
press = [0, 0, 1]

[outputs]
lamp = [3, 0, 1]   # the gangway lamp

[[expect]]
trigger = "press"
output = "lamp"
hold = "1 s"  # as long as a crossing
within = "1 tick"

# the end
'''


def _texts(kind: str) -> list[str]:
    """Every way to write a kind, with some values of each argument."""
    record = PARTS[kind]
    texts = [kind]
    if record.directions:
        written = f"{record.direction}=" if record.direction else ""
        texts = [f"{kind} {written}{direction}" for direction in record.directions]
    for argument in record.arguments:
        words = {True: "yes", False: "no"}
        values = [words.get(value, value) if isinstance(value, bool) else value for value in argument.choices]
        some = [*values[:3], values[-1]] if len(values) > 4 else values
        texts += [f"{text} {argument.name}={value}" for text in texts for value in some]
    return texts


PART_TEXTS = [text for kind in PARTS for text in _texts(kind)]
parts = st.sampled_from(PART_TEXTS).map(parse_part)
names = st.text("abcdefxyz019-_", min_size=1, max_size=6)
titles = st.text("abc XYZ019.,#=[]\"'\\éß水🌊", max_size=12)
steps = st.one_of(st.none(), st.integers(0, 50), st.integers(0, 20 * 3600 * 24))


def cells(size: int = 5) -> st.SearchStrategy[tuple[int, int, int]]:
    along = st.integers(0, size - 1)
    return st.tuples(along, along, along)


@st.composite
def expectations(draw, triggers, outputs):
    asked = draw(
        st.fixed_dictionaries(
            {
                "hold_steps": steps,
                "delay_steps": steps,
                "recovery_steps": steps,
                "pulses": st.one_of(st.none(), st.integers(0, 9)),
                "level_at_least": st.one_of(st.none(), st.integers(1, 15)),
                "never": st.booleans(),
                "settles_within_steps": steps,
                "minimum_trigger_at_most_steps": steps,
            }
        )
    )
    if not any(value is not None and value is not False for value in asked.values()):
        asked["pulses"] = 1
    widened = any(asked[name] is not None for name in ("hold_steps", "delay_steps", "recovery_steps"))
    within = draw(st.integers(0, 60)) if widened else 0
    return Expectation(draw(st.sampled_from(triggers)), draw(st.sampled_from(outputs)), within_steps=within, **asked)


@st.composite
def plans(draw) -> Plan:
    """Plans that a file can say; whether their circuit can be built is left open."""
    triggers = draw(st.dictionaries(names, cells(), max_size=3))
    outputs = draw(st.dictionaries(names, cells(), max_size=3))
    expected = ()
    if triggers and outputs:
        expected = tuple(draw(st.lists(expectations(sorted(triggers), sorted(outputs)), max_size=3)))
    size = draw(st.tuples(st.integers(0, 6), st.integers(0, 6), st.integers(1, 6)))
    rules = draw(st.sampled_from(["standard", "older-wire", "tides.toml"]))
    held = draw(st.dictionaries(cells(), parts, max_size=12))
    return Plan(held, triggers, outputs, expected, draw(titles), rules, size)
