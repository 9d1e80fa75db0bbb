"""Cards of plans: the one flat view that shows most, what one press does, and lanes of it, all from one run."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from tickwright import Plan, RuleSet, TickwrightError, load, load_rules
from tickwright.durations import duration_text
from tickwright.kinds import PARTS
from tickwright.publish import answer, flat_drawing, lit_step, main_result, svg_text

if TYPE_CHECKING:
    from tickwright import Measurement
    from tickwright.publish import Theme

MOST_PULSES = 60
UNNAMED = ("It names no trigger and output.", "", "")


class Card(NamedTuple):
    """What a card shows: pictures in light and dark (SVG), where they look from, the sentence in three pieces, figures.

    `lanes` are of press and output: SVG whose colours are the page's. `trouble` is why there is nothing, "" usually.
    """

    title: str
    view: str = ""
    pictures: tuple[bytes, ...] = ()
    sentence: tuple[str, str, str] = ("", "", "")
    hold_steps: int | None = None
    parts: int = 0
    box: tuple[int, int, int] | None = None
    lanes: str = ""
    ports: str = ""
    trouble: str = ""


def card_of(plan: Plan, rules: RuleSet) -> Card:
    """The card of a plan. Raises TickwrightError for one that cannot be run."""
    from tickwright.measurement import measure_with_findings
    from tickwright.recording import record

    named = plan.title or Path(plan.path or "plan").stem
    xs = list(zip(*plan.cells, strict=True)) or [(0,), (0,), (0,)]
    x, y, z = (max(along) - min(along) + 1 for along in xs)
    box = (x, y, z) if plan.cells else None
    measured = measure_with_findings(plan, rules=rules, minimum=False)[0] if plan.triggers and plan.outputs else []
    main = main_result(plan, measured)
    recording = None
    if main is not None:
        recording = record(plan, None, None, rules, trigger=main.trigger, before_steps=0)
    at = 0
    if recording is not None and main is not None:
        at = lit_step(recording, main)
    pictures, view = [], ""
    themes: tuple[Theme, ...] = ("light", "dark")
    for theme in themes:
        drawing, view = flat_drawing(plan, rules, recording, at, theme)
        pictures.append(svg_text(drawing).encode("utf-8"))
    if recording is not None:
        view += f", {duration_text(at - (recording.pressed_at_step or 0))} after the press"
    said = answer(plan, main) if main is not None else None
    ports = ", ".join(plan.ports) if plan.ports else ""
    return Card(
        named, view, tuple(pictures), (said.before, said.figure, said.after) if said else UNNAMED,
        main.hold_steps if main else None, len(plan.cells), box, lanes_svg(plan, main) if main else "", ports,
    )  # fmt: skip


def lanes_svg(plan: Plan, main: Measurement) -> str:
    """Press and output as two lanes over seconds; the colours are variables of the page."""
    wide, left = 360, 66
    end = int(max([30, *(begin + (40 if length is None else length) for begin, length in main.pulses)]) * 1.15)

    def at(step: float) -> float:
        return left + step / end * (wide - left - 8)

    every = next((n for n in (10, 20, 40, 100, 200, 400, 1200, 2400, 12000) if end / n <= 5), 24000)
    marks = "".join(
        f'<line x1="{at(s):.1f}" x2="{at(s):.1f}" y1="18" y2="72" stroke="var(--grid)"/>'
        f'<text x="{at(s):.1f}" y="11" text-anchor="middle" fill="var(--soft)">{duration_text(s)}</text>'
        for s in range(0, end, every)
    )
    part = plan.cells.get(plan.outputs[main.output])
    lamp = part is not None and PARTS[part.kind].behaviour == "lamp"
    press: list[tuple[int, int | None]] = [(0, main.trigger_length_steps or end)]
    pulses = [(begin, length) for begin, length in main.pulses[:MOST_PULSES]]
    rows = [(main.trigger, press, False), (main.output, pulses, lamp)]
    bars = ""
    for number, (name, spans, amber) in enumerate(rows):
        top = 22 + number * 27
        bars += f'<text x="0" y="{top + 12}" fill="var(--ink)" font-weight="600">{escape(name[:9])}</text>'
        bars += f'<line x1="{left}" x2="{wide - 8}" y1="{top + 17.5}" y2="{top + 17.5}" stroke="var(--line)"/>'
        fill, rim, ink = ("amber", "amberedge", "amberink") if amber else ("level-15", "level-15", "on-level-15")
        for begin, length in spans:
            right = end if length is None else min(end, begin + length)
            width = max(1.5, at(right) - at(begin))
            bars += (
                f'<rect x="{at(begin):.1f}" y="{top}" width="{width:.1f}" height="17" rx="2" fill="var(--{fill})" '
                f'stroke="var(--{rim})"/>'
            )
            text = duration_text(length) if length is not None else "for good"
            if width > 12 + 6.2 * len(text):
                middle = at(begin) + width / 2
                bars += (
                    f'<text x="{middle:.1f}" y="{top + 12.5}" text-anchor="middle" fill="var(--{ink})" '
                    f'font-weight="600">{text}</text>'
                )
    said = f"{main.trigger}, then {main.output}"
    return f'<svg class="mini" viewBox="0 0 {wide} 76" role="img" aria-label="{escape(said)}">{marks}{bars}</svg>'


def file_card(path: str) -> Card:
    """The card of a plan file; what is wrong with it, if it cannot be read or run."""
    stem = Path(path).stem
    try:
        plan = load(path)
        return card_of(plan, load_rules(plan.rules, Path(path).parent))
    except (TickwrightError, OSError) as error:
        return Card(stem, trouble=str(error))
