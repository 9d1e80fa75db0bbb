"""What was measured in a world: circuits that were built, what the hand did to them, and what they then showed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

from tickwright.arguments import checked
from tickwright.charts import Charts, charts_of
from tickwright.charts.notation import ReadChart
from tickwright.diagnosis.world.circuits import bench_plan
from tickwright.durations import parse_duration
from tickwright.errors import PlanError, TickwrightError, UsageError
from tickwright.places import Places
from tickwright.plan.files import load
from tickwright.plan.model import Chart, Plan
from tickwright.toml import read_text, read_toml, shown

FORMAT = "tickwright measured 1"
KEYS = ("plan", "hand", "observed", "give_or_take", "starts", "watch")
STARTS = ("at rest", "at step 0")
MOST_MEASURED = 200


class Measured(NamedTuple):
    """One circuit that was built: its file as named, the plan, what was seen as one chart, how far off it may be."""

    name: str
    plan: Plan
    charts: Charts
    chart: ReadChart


@checked
def load_measured(path: str | Path) -> list[Measured]:
    """Read a file of what was measured.

    Raises PlanError, with line and column, for what it may not say; plans are sought beside the file, "bench:NAME" is
    one of ours.
    """
    file = Path(path)
    try:
        text = read_text(file)
        data, places = read_toml(text)
    except PlanError as error:
        raise PlanError(error.message, error.line, error.column, str(file)) from None
    reader = _Reader(file, places)
    return reader.all(data)


class _Reader:
    def __init__(self, file: Path, places: Places) -> None:
        self.file, self.places = file, places

    def all(self, data: dict[str, Any]) -> list[Measured]:
        for key in data:
            if key not in ("format", "measured"):
                raise self.error(f"A file of what was measured has no {shown(key)}: it has [[measured]].", key)
        if data.get("format", FORMAT) != FORMAT:
            raise self.error(f"The format is {shown(data['format'])}: write format = {shown(FORMAT)}.", "format")
        rows = data.get("measured")
        if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
            raise self.error("Nothing was measured: write [[measured]] with plan and observed.")
        if len(rows) > MOST_MEASURED:
            raise self.error(f"{len(rows)} circuits were measured: at most {MOST_MEASURED} are taken.", "measured")
        return [self.one(row, number) for number, row in enumerate(rows)]

    def one(self, row: dict[str, Any], number: int) -> Measured:
        for key in row:
            if key not in KEYS:
                raise self.error(
                    f"[[measured]] has no {shown(key)}: it has {', '.join(KEYS)}.", "measured", number, key
                )
        name = self.text(row, number, "plan")
        plan = self.plan(name, number)
        observed = self.texts(row, number, "observed")
        if not observed:
            raise self.error("Nothing was observed: write claims as in charts.", "measured", number)
        hand = self.texts(row, number, "hand") if "hand" in row else None
        starts = self.text(row, number, "starts") if "starts" in row else STARTS[0]
        if starts not in STARTS:
            wrong = f'starts is {shown(starts)}: write "{STARTS[0]}" or "{STARTS[1]}".'
            raise self.error(wrong, "measured", number, "starts")
        watch = self.duration(row, number, "watch")
        chart = Chart("measured", observed, hand, watch, starts == STARTS[0])
        bare = replace(plan, charts=(chart,), source=None, expectations=())
        try:
            read = charts_of(bare)
        except TickwrightError as error:
            what = error.message if isinstance(error, PlanError) else str(error)
            raise self.error(what, "measured", number, "observed") from None
        return Measured(name, bare, read, _wider(read.charts[0], self.duration(row, number, "give_or_take") or 0))

    def plan(self, name: str, number: int) -> Plan:
        try:
            if name.startswith("bench:"):
                return bench_plan(name.removeprefix("bench:"))
            return load(self.file.parent / name, checked=False)
        except UsageError as error:
            raise self.error(str(error), "measured", number, "plan") from None

    def text(self, row: dict[str, Any], number: int, key: str) -> str:
        value = row.get(key)
        if not isinstance(value, str) or not value:
            raise self.error(
                f"[[measured]] needs {key} as text in quotes.", "measured", number, *([key] * (key in row))
            )
        return value

    def texts(self, row: dict[str, Any], number: int, key: str) -> tuple[str, ...]:
        value = row.get(key, [])
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            raise self.error(f"{key} must be a list of texts in quotes.", "measured", number, key)
        return tuple(value)

    def duration(self, row: dict[str, Any], number: int, key: str) -> int | None:
        if key not in row:
            return None
        try:
            return parse_duration(self.text(row, number, key))
        except TickwrightError as error:
            raise self.error(str(error), "measured", number, key) from None

    def error(self, message: str, *where: str | int) -> PlanError:
        return PlanError(message, *self.places.of(*where), str(self.file))


def _wider(chart: ReadChart, give_or_take_steps: int) -> ReadChart:
    """The chart with that give or take in every claim that has none of its own."""
    claims = tuple(
        claim if "give or take" in claim.text else replace(claim, give_or_take_steps=give_or_take_steps)
        for claim in chart.claims
    )
    return replace(chart, claims=claims)
