"""The guided build: one HTML file that leads through a build step by step on a phone, and keeps what was ticked off."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections import Counter
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tickwright.durations import duration_text
from tickwright.kinds import CONTAINERS, Part, many_of
from tickwright.plan.build_order import BuildGroup, cells_text, facing_hint
from tickwright.plan.hand import default_act
from tickwright.plan.model import Plan
from tickwright.publish.canvas import Drawing, svg_text
from tickwright.publish.chart import FULL_SPEED, timing_chart
from tickwright.publish.dossier_text import answer_of
from tickwright.publish.drawing import layer_drawing, whole_layer, windows
from tickwright.publish.interactive import script_json
from tickwright.publish.isometric import isometric_drawing
from tickwright.publish.legend import symbol_drawing
from tickwright.publish.pdf import STACK, facing_to_show, spoken
from tickwright.publish.scene import WEB_FOLDER, inlined
from tickwright.publish.sentences import main_result
from tickwright.publish.tokens import Theme, css_variables, font_face
from tickwright.space import Cell

if TYPE_CHECKING:
    from tickwright.guiding import Asking, Check
    from tickwright.material import Material

MOST_ACROSS, MOST_DOWN = 9, 12  # cells of a layer in one picture, on a phone
MOST_LIFTED = 120  # parts: of more the lifted picture would be too small
LOOKS: tuple[Theme, ...] = ("light", "dark")
_ACTS = {
    "press": "Press the {kind}", "flip": "Flip the lever", "drop": "Drop an item on the {kind}",
    "tread": "Step on the {kind} and off again", "put": "Put an item into the {kind}",
}  # fmt: skip
_UNDONE = {"flip": "Then flip it back.", "take": "Then take the item away again."}


def guided_page(material: Material) -> str:
    """The text of an HTML file that leads through the build of one plan; it asks for nothing else, and works from disk.

    What to take along, each step with its picture, check-points, what goes into containers, the first press; and if
    that does something else, the questions of the diagnosis.
    """
    title = material.plan.title or "Untitled plan"
    data = {"title": title, "answer": answer_of(material.dossier, material.charts)["answer"], "speed": FULL_SPEED}
    data["steps"] = list(_steps(material))
    data["asking"] = _asking(material.guide.asking)
    data["file"] = Path(material.plan.path).name if material.plan.path is not None else "PLAN"
    data["key"] = hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()[:16]
    script = inlined("guide.js")
    style = (
        f"{font_face(embedded=True)}\n:root{{color-scheme:light;{css_variables('light')}}}\n"
        f':root[data-theme="dark"]{{color-scheme:dark;{css_variables("dark")}}}\n'
        + (WEB_FOLDER / "guide.css").read_text(encoding="utf-8")
    )
    policy = (
        f"default-src 'none'; script-src '{_hash(script)}'; style-src '{_hash(style)}'; img-src data:; font-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    filled = {"policy": policy, "title": html.escape(title), "style": style, "script": script}
    filled["data"] = script_json(data)
    page = (WEB_FOLDER / "guide.html").read_text(encoding="utf-8")
    return re.sub(r"<!--(\w+)-->", lambda found: filled[found[1]], page)


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def _drawn(drawings: dict[Theme, Drawing], name: str) -> dict[str, str]:
    """One picture in both looks, as the texts of SVG elements of one page."""
    return {look: svg_text(drawing, f"{name}-{look}") for look, drawing in drawings.items()}


# --- the steps -------------------------------------------------------------------------------------------------------


def _steps(material: Material) -> Iterator[dict[str, Any]]:
    plan, guide = material.plan, material.guide
    yield {"type": "ready", "title": "What to take along", "rows": list(_take(material)), "note": _room(plan)}
    left = Counter(spoken(part) for part in plan.cells.values())
    laid: dict[Cell, Part] = {}
    lately: list[str] = []
    checks = {check.after: check for check in guide.checks}
    for number, group in enumerate(guide.groups):
        laid |= {cell: plan.cells[cell]._replace(items=0) for cell in group.cells}
        left[spoken(group.part)] -= len(group.cells)
        step = _lay(material, group, number, laid, left[spoken(group.part)])
        lately.append(f"{step['hand']}: {step['text']}")
        yield step
        if number in checks:
            yield _check(material, checks[number], lately)
            lately = []
    for number, (cell, part) in enumerate(guide.fillings):
        yield _fill(material, cell, part, number)
    yield _first_press(material)


def _room(plan: Plan) -> str:
    wide, deep, high = plan.size
    return (
        f"Room: {wide} from west to east, {deep} from north to south, {high} high. In each picture of a layer north is "
        "above; numbers along the edges count cells from the west (x) and from the north (y), from 0."
    )


def _take(material: Material) -> Iterator[dict[str, Any]]:
    counts: Counter[Part] = Counter()
    for part in material.plan.cells.values():
        counts[part._replace(facing=facing_to_show(part), items=0)] += 1
    for part, number in sorted(counts.items(), key=lambda item: (-item[1], str(item[0]))):
        text = f"{number} {_many(spoken(part), number)}"
        yield {"text": text, "stacks": _stacks(number), "symbol": _symbol(material, part)}
    if items := sum(part.items for part in material.plan.cells.values()):
        yield {"text": f"{items} items, of one sort", "stacks": _stacks(items), "symbol": None}


def _stacks(number: int) -> str:
    """A number in stacks of 64, where it takes more than one.

    >>> _stacks(64), _stacks(130), _stacks(12)
    ('a full stack of 64', '2 stacks of 64, and 2', '')
    """
    stacks, rest = divmod(number, STACK)
    if not stacks:
        return ""
    text = f"{stacks} stacks of {STACK}" if stacks > 1 else f"a full stack of {STACK}"
    return f"{text}, and {rest}" if rest else text


def _many(name: str, number: int) -> str:
    """A part as it is spoken of, in the plural for more than one.

    >>> _many("comparator ≥", 2), _many("repeater, 2 ticks", 3), _many("torch", 2)
    ('comparators ≥', 'repeaters, 2 ticks', 'torches')
    """
    if number == 1:
        return name
    found = re.match(r"[\w-]+", name)
    word = found[0] if found else name
    return many_of(word) + name[len(word) :]


def _symbol(material: Material, part: Part) -> dict[str, str]:
    name = "symbol-" + hashlib.sha256(str(part).encode()).hexdigest()[:8]
    return _drawn({look: symbol_drawing(part, material.rules, look) for look in LOOKS}, name)


def _lay(material: Material, group: BuildGroup, number: int, laid: dict[Cell, Part], left: int) -> dict[str, Any]:
    plan, count = material.plan, len(group.cells)
    half = _half(plan, laid)
    where = cells_text(group.cells, group.layer, one_row=plan.size[1] == 1)
    hint = facing_hint(group.part)
    verb = "Lay it" if count == 1 else "Lay them"
    at = f"{verb} at {where}"
    if plan.size[1] > 1:
        at = f"{verb} in {where.replace(': ', ' at ').replace(';', ', and in')}"
    on_it = f", {hint}" if hint else ""
    return {
        "type": "lay",
        "layer": group.layer,
        "laid": len(laid),
        "of": len(plan.cells),
        "hand": f"{count} {_many(spoken(group.part), count)}",
        "left": f"{left} more later" if left else "none left after this",
        "symbol": _symbol(material, group.part),
        "lifted": _lifted(material, half, group.cells, f"lifted-{number}"),
        "strips": list(_strips(material, half, group.layer, group.cells, f"strip-{number}")),
        "about": f"Layer {group.layer} from above, north is up",
        "text": f"{at}{on_it}.",
        "tick": "It is laid" if count == 1 else "Both are laid" if count == 2 else f"All {count} are laid",
    }


def _half(plan: Plan, laid: dict[Cell, Part]) -> Plan:
    """What is laid so far as a plan of the whole's size."""
    triggers, outputs = (
        {name: cell for name, cell in table.items() if cell in laid} for table in (plan.triggers, plan.outputs)
    )
    return Plan(dict(laid), triggers, outputs, title=plan.title, rules=plan.rules, size=plan.size)


def _lifted(material: Material, half: Plan, marked: Collection[Cell], name: str) -> dict[str, str] | None:
    if len(material.plan.cells) > MOST_LIFTED or material.plan.size[2] == 1:
        return None
    nameless = Plan(half.cells, title=half.title, rules=half.rules, size=half.size)
    return _drawn(
        {
            look: isometric_drawing(nameless, material.rules, None, look, apart=None, bare=True, marked=marked)
            for look in LOOKS
        },
        name,
    )


def _strips(
    material: Material, half: Plan, layer: int, marked: Collection[Cell], name: str, check: Check | None = None
) -> Iterator[dict[str, str]]:
    """The pieces of a layer in which there is something to do, or to see."""
    moment = check.moment if check is not None else None
    for number, window in enumerate(windows(whole_layer(material.plan), MOST_ACROSS, MOST_DOWN)):
        if any(cell[2] == layer and window.holds(cell) for cell in marked):
            yield _drawn(
                {
                    look: layer_drawing(half, material.rules, layer, moment, look, window, bare=True, marked=marked)
                    for look in LOOKS
                },
                f"{name}-{number}",
            )


def _check(material: Material, check: Check, lately: list[str]) -> dict[str, Any]:
    several = len(material.plan.triggers) > 1
    at = material.plan.triggers[check.trigger]
    kind = check.plan.cells[at].kind.replace("-", " ")
    act = _ACTS[check.act].format(kind=kind) + (f' "{check.trigger}"' if several else "")
    part = check.plan.cells[check.cell]
    name = next((name for name, cell in check.plan.outputs.items() if cell == check.cell), "")
    what = f"the {part.kind} {_where(material.plan, check.cell)}" + (f' ("{name}")' if name else "")
    if check.value == 0:
        shows = f"{what} goes dark"
    elif part.row.shows_level:
        shows = f"{what} shows level {check.value}"
    elif part.kind in CONTAINERS:
        shows = f"{what} holds {check.value} items"
    else:
        shows = f"{what} {'lights' if part.behaviour == 'lamp' else 'comes on'}"
    till = f"until {duration_text(check.last)} after it" if not check.undone else "and stays so"
    since = f"from {duration_text(check.first)} after it on" if check.first else "at once"
    return {
        "type": "check",
        "layer": check.cell[2],
        "text": f"{act} now: {shows}.",
        "when": f"It does so {since}, {till}.",
        "undone": _UNDONE.get(check.undone, "Then all is as it was: lay on."),
        "strips": list(_strips(material, check.plan, check.cell[2], [check.cell], f"check-{check.after}", check)),
        "about": f"Layer {check.cell[2]} from above, "
        f"{duration_text(check.moment.step - _act_step(check))} after it, from a run of what is laid so far",
        "lately": list(lately),
    }


def _where(plan: Plan, cell: Cell) -> str:
    """Where a cell lies, as the pictures of the layers count."""
    x, y, z = cell
    return f"at {x} in layer {z}" if plan.size[1] == 1 else f"at x {x}, y {y} in layer {z}"


def _act_step(check: Check) -> int:
    """The step of the act in the run that the check-point's moment belongs to."""
    return check.moment.step - (check.first + check.last) // 2


def _fill(material: Material, cell: Cell, part: Part, number: int) -> dict[str, Any]:
    bare = {place: one._replace(items=0) for place, one in material.plan.cells.items()}
    stacks = _stacks(part.items)
    items = f"{part.items} {'item' if part.items == 1 else 'items'}"
    return {
        "type": "fill",
        "layer": cell[2],
        "text": f"Put {items} into the {part.kind} {_where(material.plan, cell)}.",
        "stacks": f"That is {stacks}." if stacks else "",
        "symbol": _symbol(material, part._replace(items=0)),
        "strips": list(_strips(material, _half(material.plan, bare), cell[2], [cell], f"fill-{number}")),
        "about": f"Layer {cell[2]} from above, north is up",
        "tick": "It is filled",
    }


def _first_press(material: Material) -> dict[str, Any]:
    """The last step: the first press, what it does, and its chart."""
    plan = material.plan
    main = main_result(plan, [answer.measured for answer in material.dossier.answers])
    pressed = main.trigger if main is not None else None
    own = [press for press in material.presses if press.own and press.recording.trace.names]
    press = next((one for one in own if one.trigger == pressed), next(iter(own), None))
    chart = None
    if press is not None:
        run = {plan.title or "Untitled plan": press.recording}
        chart = _drawn({look: timing_chart(run, look) for look in LOOKS}, "first-press")
    said = "".join(answer_of(material.dossier, material.charts)["answer"])
    if main is None:
        act = "Nothing is to be pressed. Watch what it does by itself"
    else:
        kind = plan.cells[plan.triggers[main.trigger]].kind if plan.triggers[main.trigger] in plan.cells else ""
        act = _ACTS[str(default_act(kind or None))].format(kind=kind.replace("-", " "))
        act += f' "{main.trigger}"' if len(plan.triggers) > 1 else ""
    return {
        "type": "press",
        "text": f"{act}." if main is None else f"{act}, and watch.",
        "said": said,
        "chart": chart,
        "about": "From a run of the whole plan",
    }


# --- the questions ---------------------------------------------------------------------------------------------------


def _asking(asking: Asking | None) -> dict[str, Any] | None:
    if asking is None:
        return None
    question = asking.question.split(" which of these are lit?")[0] if asking.kind == "lit" else asking.question
    return {
        "question": f"{question} which parts are lit?" if asking.kind == "lit" else question,
        "kind": asking.kind,
        "cells": [list(cell) for cell in asking.cells],
        "answers": list(asking.answers),
        "then": {answer: _asking(then) for answer, then in asking.then.items()},
        "leading": [{"look": look, "chance": round(100 * chance)} for look, chance in _places(asking).items()],
        "done": asking.done,
    }


def _places(asking: Asking) -> dict[str, float]:
    """Where to look for the likeliest mistakes, each place once, with its chance."""
    found: dict[str, float] = {}
    for one in asking.leading:
        look = "; ".join(mistake.look for mistake in one.mistakes)
        if look:
            found[look] = found.get(look, 0.0) + one.chance
    return dict(sorted(found.items(), key=lambda item: -item[1]))
