"""Troubleshooting: by what one sees, how a wrong build is found, and a page for each finding, all from runs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from textwrap import wrap

from typer.testing import CliRunner

from tickwright import Plan, Trace, load, load_rules, measure, run
from tickwright.cli import program
from tickwright.diagnosis import (
    CODES,
    KINDS,
    SYMPTOMS,
    Explanation,
    Proposal,
    Seen,
    explain,
    find_causes,
    seen_at,
    single_mistakes,
    symptom,
    what_if,
)
from tickwright.diagnosis.cases import Sketch, cases
from tickwright.diagnosis.mistakes import built_with
from tickwright.durations import duration_text
from tickwright.measurement import find_trigger, observe
from tickwright.plan.setup import Setup
from tickwright.publish import lanes
from tickwright.rules import RuleSet

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
WIDTH = 100
PLANTED = ("flat-loop-6", "the comparator at (4, 1, 1) faces east instead of west")
UNSEEN = "shows it elsewhere: at another output, in parts, items or neighbours, or after another press"

TEXT = """\
# Troubleshooting

Something does not do what it should. First decide where the mistake is:

- **Is the plan wrong?** `tickwright diagnose PLAN` looks at the plan, presses every trigger, and names what it finds,
  with cells and steps and, where it found one, the edit of the plan that mends it. Each such repair was tried: in a run
  of the edited plan the finding was gone, no other had come, and every output that had come on still did. `--mend FILE`
  does the repairs one after another and writes the plan; `--only CODE` chooses among them.
- **Is the build wrong?** If the plan does in a run what it should and the build does not, say what the build does:
  `tickwright diagnose PLAN --observed "hold 1.2 s"`. See [below](#the-build-does-something-else). Or let it ask you
  questions, `tickwright diagnose PLAN --ask`: see [diagnose.md](diagnose.md).

What `diagnose` names is called a *finding*. `tickwright explain CODE` shows one on a small circuit; here each has a
page. Times assume a world at its full 20 steps a second: the first thing to look at is whether yours runs that fast.

## By what you see

For each finding two small circuits were pressed once: an example that has it, and a *near twin* that has not. The table
says what the first output of the example does that the one of the twin does not:

"""

BUILD = """\
## The build does something else

You built `{name}`, and the lamp goes dark too soon. (Here {planted}, but you do not know that yet.) You count the
seconds and type them in. The command then tries single mistakes of building, each in a run: another delay, facing or
mode, a part that looks alike, a gap, a part left out, a wire too many, a block or power-block that stands there,
another number of items, other rules, a world that is too slow. It lists those that do what you saw, those that are
made most easily first. As several do, it also says what to watch or look at next, and what each of them would show
there.

{dialogue}

- What you see may be a `hold`, a `delay`, a `period`, a number of `pulses`, `stays on`, `never on`, `on all the time`
  or `pulses for ever`; of an output, or of any cell, `4,1,1: never on`; or what stands in a cell,
  `4,1,1: comparator east`.
- You may also write it as a claim of a [chart](charts.md): `bell: 3 pulses of 0.2 s every 1 s from press`. The trigger
  is worked once, at rest. With `give or take D` an edge may be off by D, otherwise by `--tolerance`. With such a
  claim among what you saw, a slow world is not tried.
- A time fits if it is within `--tolerance`, 0.2 s if not given. A time in seconds may also be explained by a slow
  world; a time in ticks or steps cannot.
- `--pairs` tries every two mistakes at once. That takes long; Ctrl-C keeps what was found.
- Not tried: three mistakes, parts of other sorts than those that look alike, and whole rows laid a cell off.

## What can go wrong

`--what-if` goes the other way: it says what every single mistake would do, grouped by what you would see. For the loop
of two comparators, `flat-loop-2`, in short (mistakes that change nothing there are left out). Of a plan of ten parts,
with 105 mistakes, it took 0.13 s in a Python that had it loaded (the median of nine on 2026-11-25, on two cores, AMD
EPYC, Python 3.11.7, that did other things meanwhile; `python dev.py bench what_if` times it on yours). Of clocks and
counters, whose presses are long to run, it may take a minute; Ctrl-C keeps what was found.

| what one sees at the lamp | mistake | in the cells | it then does |
|---|---|---|---|
{what_if}
"""


FOOT = """Words are explained in the [glossary](../glossary.md). [All findings](../troubleshooting.md#all-findings)"""


def page() -> str:
    """The page: by symptom, the list of findings, and how a build is diagnosed."""
    return "\n".join([TEXT + by_symptom(), *list_of_findings(), "", build()])


def list_of_findings() -> list[str]:
    """All findings, each with what it is."""
    rows = [f"| [{code}](findings/{code}.md) | {entry.severity} | {entry.title} |" for code, entry in CODES.items()]
    return ["## All findings", "", "| finding | severity | what it is |", "|---|---|---|", *rows]


def pages() -> dict[str, str]:
    """A page for each finding, by its name."""
    return {f"{code}.md": finding_page(explain(code)) for code in CODES}


def by_symptom() -> str:
    """A table of what the wrong circuit of each finding does that its near twin does not."""
    found: dict[str, list[str]] = {name: [] for name in SYMPTOMS}
    for code, case in cases().items():
        if case.wrong.triggers and not case.wrong.hand:
            own, now = (first_answer(sketch, case.rules) for sketch in (case.right, case.wrong))
            found[symptom(own, now)].append(f"[{code}](findings/{code}.md)")
    texts = {**SYMPTOMS, "as-planned": UNSEEN}
    rows = [f"| {text} | {', '.join(found[name])} |" for name, text in texts.items() if found[name]]
    return "\n".join(["| the output | may be |", "|---|---|", *rows, ""])


def first_answer(sketch: Sketch, rules: RuleSet) -> Seen:
    """What one press of the first trigger does to the first output."""
    plan = sketch.plan()
    setup = Setup(plan, rules)
    seen = observe(setup, find_trigger(setup, next(iter(plan.triggers))))
    return seen_at(seen, next(iter(plan.outputs)))


def finding_page(told: Explanation) -> str:
    """One finding: what it means, what helps, and its example in a run, repaired and beside its near twin."""
    entry = told.entry
    lines = [f"# {entry.code}", "", f"**{entry.title}** ({entry.severity}).", ""]
    lines += [*fill(entry.cause), "", "## What helps", "", *fill(entry.helps), "", "## An example", ""]
    hand = ", ".join(f"`{act}`" for act in told.hand) or "nothing is done"
    lines += [*block(picture(told.text)), "", f"Rules `{told.rules}`; the hand: {hand}.", ""]
    lines += [*drawn(told.trace), "", *(f"> {line}" for line in fill(told.finding.message)), ""]
    repair = told.finding.repair
    if repair is not None and told.repaired is not None:
        edits = "; ".join(map(str, repair.edits))
        lines += [*fill(f"{repair.text} As an edit: {edits}. Then:"), "", *drawn(told.repaired), ""]
    if entry.code == "trigger-too-short":
        lines += slower(told)
    lines += ["## A near twin without it", "", *fill(f"What differs: {told.twin_differs}."), "", *drawn(told.twin)]
    return "\n".join([*lines, "", FOOT])


def fill(text: str) -> list[str]:
    """A paragraph in lines that fit the page."""
    return wrap(text, 116, break_long_words=False, break_on_hyphens=False)


def slower(told: Explanation) -> list[str]:
    """The same circuit with a slower repeater, which does not help."""
    sketch = cases()[told.entry.code].wrong
    slow = Sketch((sketch.layers[0].replace("r", "2", 1),), sketch.triggers, sketch.outputs, steps=sketch.steps)
    shown = run(slow.plan(), told.hand, slow.steps, load_rules()).trace
    return ["With a slower repeater in the feed (two ticks) it pulses as before, a tick later:", "", *drawn(shown), ""]


def picture(text: str) -> list[str]:
    """The key and the layers of a plan file, without what every plan file has."""
    lines = text.split("[legend]\n")[1].split("\n[triggers]", maxsplit=1)[0].split("\n[outputs]", maxsplit=1)[0]
    return [line for line in lines.replace('rows = """\n', "").replace('"""\n', "").splitlines() if line]


def drawn(trace: Trace) -> list[str]:
    """A run as lanes."""
    return block(lanes(trace, width=WIDTH))


def block(lines: Iterable[str]) -> list[str]:
    """Lines as a block of code."""
    return ["```", *lines, "```"]


def build() -> str:
    """How a wrong build is found, with what the commands print when one does what they propose."""
    name, planted = PLANTED
    plan = load(EXAMPLES / f"{name}.toml")
    rules = load_rules(plan.rules)
    mistake = next(one for one in single_mistakes(Setup(plan, rules)) if one.text == planted)
    built = built_with(plan, [mistake])
    observed = [f"hold {duration_text(measure(built)[0].hold_steps or 0)}"]
    dialogue = []
    for _ in range(4):
        words = [word for text in observed for word in ("--observed", text)]
        shown = " ".join(f'--observed "{text}"' for text in observed)
        dialogue.append(f"```\n$ tickwright diagnose examples/{name}.toml {shown}\n{printed(name, *words)}\n```\n")
        proposal = find_causes(plan, observed).proposal
        if proposal is None:
            break
        observed.append(answer(built, proposal, rules))
    return BUILD.format(
        name=name,
        planted=planted,
        dialogue="\nYou do as it says:\n\n".join(dialogue),
        what_if=what_if_rows("flat-loop-2"),
    )


def answer(built: Plan, proposal: Proposal, rules: RuleSet) -> str:
    """What one sees before the build when one does what is proposed."""
    cell = built.outputs.get(proposal.place)
    if cell is None:
        x, y, z = (int(number) for number in proposal.place.split(","))
        cell = (x, y, z)
    if proposal.trigger is None:
        return f"{proposal.place}: {built.cells.get(cell, 'nothing')}"
    watched = replace(built, outputs={proposal.place: cell})
    seen = seen_at(observe(Setup(watched, rules), find_trigger(Setup(built, rules), proposal.trigger)), proposal.place)
    said = f"hold {duration_text(seen.hold_steps)}" if seen.hold_steps is not None else seen.text
    return f"{proposal.trigger} -> {proposal.place}: {said}"


def printed(name: str, *words: str) -> str:
    """What `tickwright diagnose` prints for an example."""
    done = CliRunner().invoke(program(["diagnose", "explain"]), ["diagnose", str(EXAMPLES / f"{name}.toml"), *words])
    if done.exit_code != 0:
        raise ValueError(f"{name} {words}: {done.output}")
    return done.output.rstrip()


def what_if_rows(name: str) -> str:
    """What can go wrong at the first output of an example: a row for each symptom and kind of mistake."""
    tried = what_if(load(EXAMPLES / f"{name}.toml"))
    rows = []
    for row in tried.rows(next(iter(tried.own))):
        cells = ", ".join(map(str, row.cells)) or "-"
        rows.append(f"| {SYMPTOMS[row.symptom]} | {KINDS[row.kind].title} | {cells} | {'; '.join(row.seen)} |")
    return "\n".join(rows)
