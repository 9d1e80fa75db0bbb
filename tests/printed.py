"""The list to build by as it stands on page 1 of a printed sheet: read back from the words of the PDF alone."""

from __future__ import annotations

import re
import subprocess

from tickwright.kinds import PARTS, parse_part
from tickwright.plan import Plan
from tickwright.plan.build_order import build_groups
from tickwright.space import Cell

_PLACE = r"\d+(?: to \d+)?"
_PLACES = rf"{_PLACE}(?:, {_PLACE})*(?: and {_PLACE})?"
_ROWS = rf"(?:row \d+|rows {_PLACES}|every \d+(?:nd|rd|th) row from \d+ to \d+)"
_SPAN = rf"(?:{_ROWS}: )?{_PLACES}(?: of layer \d+)?"
_KINDS = "|".join(sorted(PARTS, key=len, reverse=True))
_SPOKEN = (
    rf"(?P<kind>{_KINDS})(?P<sign> [≥−])?(?:, (?P<delay>\d) ticks?)?(?:, by (?P<counts>\d+))?(?P<on>, on)?"
    r"(?: (?:fixed to the )?(?P<way>north|south|east|west|up|down))?"
)
_ITEM = re.compile(rf"Layer (?P<layer>\d+)|(?:(?P<count>\d+) × )?{_SPOKEN} at (?P<places>{_SPAN}(?:; {_SPAN})*)")


def words_of_page_1(pdf: bytes, pdftotext: str) -> str:
    """The words of the first page in the order in which they were set."""
    done = subprocess.run([pdftotext, "-raw", "-l", "1", "-", "-"], input=pdf, capture_output=True, check=True)
    return " ".join(done.stdout.decode().split())


def groups_on_page_1(pdf: bytes, pdftotext: str) -> list[tuple[str, set[Cell]]]:
    """Each entry of the list on page 1: its part as plans write it, and its cells."""
    whole = words_of_page_1(pdf, pdftotext)
    text = whole[whole.index("Build it from below") :].partition("Check as you go")[0]
    layer, groups = 0, []
    for found in _ITEM.finditer(text):
        if found["layer"]:
            layer = int(found["layer"])
            continue
        cells = _cells(found["places"], layer)
        assert len(cells) == int(found["count"] or 1), found[0]
        groups.append((_part(found), cells))
    return groups


def groups_to_lay(plan: Plan) -> list[tuple[str, set[Cell]]]:
    """The same from the plan: each group to lay, in its order."""
    return [(str(group.part), set(group.cells)) for group in build_groups(plan)]


def _part(found: re.Match[str]) -> str:
    row = PARTS[found["kind"]]
    words = [found["kind"]]
    way = found["way"] or row.default_direction
    if way:
        words.append(f"{row.direction}={way}" if row.direction else way)
    words += [f"delay={found['delay']}"] if found["delay"] else []
    words += ["mode=difference"] if found["sign"] == " −" else []
    words += [f"counts={found['counts']}"] if found["counts"] else []
    words += ["thrown=yes"] if found["on"] else []
    return str(parse_part(" ".join(words)))


def _cells(places: str, layer: int) -> set[Cell]:
    cells: set[Cell] = set()
    for told in places.split("; "):
        span, _, other = told.partition(" of layer ")
        rows, _, along = span.rpartition(": ")
        cells |= {(x, y, int(other or layer)) for y in _ys(rows) for x in _numbers(along)}
    return cells


def _ys(rows: str) -> list[int]:
    if not rows:
        return [0]
    numbers = [int(number) for number in re.findall(r"\d+", rows)]
    if rows.startswith("every"):
        return list(range(numbers[1], numbers[2] + 1, numbers[0]))
    return _numbers(rows.partition(" ")[2])


def _numbers(text: str) -> list[int]:
    found: list[int] = []
    for first, last in re.findall(r"(\d+)(?: to (\d+))?", text):
        found += range(int(first), int(last or first) + 1)
    return found
