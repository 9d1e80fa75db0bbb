"""Examples for the help of each command; tests run them as they stand."""

from __future__ import annotations

from typing import NamedTuple


class Sample(NamedTuple):
    """A command as one types it, without the program's name, and what it is for."""

    line: str
    what: str


SAMPLES: dict[str, tuple[Sample, ...]] = {
    "run": (
        Sample('run examples/flat-loop-6.toml --do 0:press --for "7 s"', "one press at step 0, watched for 7 s"),
        Sample("run examples/two-keys.toml --do 0:north --do 6:south --vcd two-keys.vcd", "keep the waveforms"),
        Sample("run - --json < examples/latch.toml", "a plan from standard input, the answer as data"),
    ),
    "measure": (
        Sample("measure examples/flat-loop-6.toml", "what one press does"),
        Sample("measure examples/flat-loop-4.toml --full", "with second presses, recovery, neighbours, rule sets"),
        Sample("measure examples/flat-loop-*.toml --json", "several plans as one document; a folder will do, too"),
    ),
    "check": (
        Sample("check examples/flat-loop-*.toml", "hold plans to what they promise"),
        Sample("check examples/latch.toml --junit report.xml", "with a report for a build server"),
    ),
    "chart": (
        Sample("chart examples/flat-loop-2.toml", "the chart of what a press does now"),
        Sample('chart examples/flat-loop-2.toml --do 0:press --do 30:press --for "5 s"', "of two presses"),
    ),
    "bill": (
        Sample("bill examples/taps.toml", "how many parts of each kind"),
        Sample("bill examples/taps.toml --json", "the same as data"),
    ),
    "compare": (
        Sample("compare examples/flat-loop-6.toml examples/stacked-loop-3.toml", "two plans side by side"),
        Sample("compare examples/flat-loop-*.toml --sort hold --csv", "a table for a spreadsheet"),
    ),
    "choose": (
        Sample('choose --hold "12 s" --room 9x5x4', "the circuits for a hold that fit a room"),
        Sample('choose --hold "3 s" --second-press extends --save designs', "keep the plans"),
    ),
    "compose": (
        Sample("compose examples/briefs/ferry-gate.toml --save made", "a plan that keeps the chart of a brief"),
    ),
    "discover": (
        Sample('discover "hold 24 steps" --box 2x2x2', "the fewest parts that do it in a small box"),
        Sample('discover inverter --box 2x1x2 --kinds "block,torch,lever" --json', "of other parts, as data"),
    ),
    "prove": (
        Sample("prove examples/flat-loop-2.toml --claim settles", "for every sequence of presses"),
        Sample('prove examples/taps.toml --claim never-sticks --grid "10 steps" --hands 2', "for two presses at most"),
    ),
    "diagnose": (
        Sample("diagnose examples/flat-loop-8.toml", "what is wrong with a plan, and what mends it"),
        Sample('diagnose examples/flat-loop-6.toml --observed "delay 0.3 s"', "which block of the build is wrong"),
        Sample("diagnose examples/flat-loop-8.toml --mend mended.toml", "do the repairs"),
    ),
    "explain": (
        Sample("explain", "all findings"),
        Sample("explain loop-never-fades", "one of them, shown on a small circuit"),
    ),
    "why": (
        Sample("why examples/taps.toml", "why each output holds as long as it does"),
    ),
    "tune": (
        Sample('tune examples/flat-loop-4.toml --hold "5 s"', "the smallest changes that give another hold"),
        Sample('tune examples/flat-loop-4.toml --hold "4.5 s" --within "0.5 s" --save tuned', "near will do; kept"),
    ),
    "sweep": (
        Sample("sweep examples/taps.toml --set 2,0,1:delay=1..4 --into taps.sqlite", "a delay at each of its values"),
        Sample("sweep --into taps.sqlite --csv", "what is in the file, as a table"),
    ),
    "place": (
        Sample("place examples/netlists/c17.blif --save laid", "a netlist laid as blocks"),
    ),
    "characterise": (
        Sample("characterise tile:re", "how fast a flip-flop of our shelf is, and what its inputs need"),
    ),
    "sheet": (
        Sample("sheet examples/stacked-loop-3.toml -o landing", "all that is needed to build it, in one folder"),
        Sample("sheet examples/latch.toml --dry-run", "only say what would be written"),
    ),
    "export": (
        Sample("export examples/latch.toml -o latch.svg", "a picture; the name of the file tells the format"),
        Sample("export examples/latch.toml --vcd -o -", "waveforms on standard output"),
        Sample("export examples/latch.toml examples/taps.toml --png -o pictures/", "several plans into a folder"),
    ),
    "parts": (
        Sample("parts", "every part"),
        Sample("parts repeater", "one of them, with its arguments"),
    ),
    "rules": (
        Sample("rules older-wire", "every value of a rule set"),
        Sample("rules diff standard older-wire", "what two of them differ in"),
    ),
    "schema": (
        Sample("schema plan", "what a plan file may say, for an editor"),
        Sample("schema answers", "what commands answer with --json"),
    ),
    "workbench": (
        Sample("workbench examples", "open a folder of plans"),
        Sample("workbench new.toml --no-browser", "begin a plan, and only say the address"),
    ),
    "demo": (Sample("demo", "three circuits for a lamp at the ferry landing, and a gate composed from its chart"),),
}  # fmt: skip


def samples_text(name: str) -> str | None:
    """The examples of a command as the end of its help; None if it has none."""
    if name not in SAMPLES:
        return None
    lines = ["\b", "Examples:"]
    for sample in SAMPLES[name]:
        lines += [f"  # {sample.what}", f"  tickwright {sample.line}"]
    return "\n".join(lines)
