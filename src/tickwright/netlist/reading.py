"""Netlist files: BLIF by the own reader, Verilog by way of a synthesiser that is an extra."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from tickwright.arguments import checked
from tickwright.errors import NetlistError, reason
from tickwright.netlist.blif import NoOutputs, NotRead, parse_blif
from tickwright.netlist.network import Network

LARGEST_BYTES = 4_000_000
NO_OUTPUT = "The top module has no output: declare one, such as `output y`."
NO_GATES = "Something in it is no gate and no flip-flop ($display, say): take out what only a simulator does."


@checked
def read_netlist(path: str | Path, clock: str | None = None, told: Callable[[], bool] | None = None) -> Network:
    """The network in a file whose name ends in .blif or .v; `told` is asked, as Verilog is read, whether to stop.

    Raises NetlistError, with the file and line, for what cannot be read or built; UsageError for Verilog where the
    extra "verilog" is not installed.
    """
    where = Path(path)
    try:
        if where.suffix.lower() in (".v", ".sv"):
            from tickwright.netlist.verilog import blif_of

            return _parsed(blif_of(_text(where), told), clock)
        if where.suffix.lower() != ".blif":
            raise NetlistError(f'"{where.name}" is neither .blif nor .v: a netlist is one of these.')
        return parse_blif(_text(where), clock)
    except NetlistError as error:
        raise NetlistError(error.message, error.line, error.column, str(path)) from None


def _parsed(made: str, clock: str | None) -> Network:
    """The network of what a synthesiser made; an error names no line, since lines are those of the BLIF."""
    try:
        return parse_blif(made, clock)
    except NoOutputs:
        raise NetlistError(NO_OUTPUT) from None
    except NetlistError as error:
        no_gates = isinstance(error, NotRead) and error.command == ".subckt"
        raise NetlistError(NO_GATES if no_gates else error.message) from None


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise NetlistError(f'"{path}" has over {LARGEST_BYTES:,} bytes, the most that is read: split it.')
        return path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise NetlistError(f'"{path}" cannot be read: {reason(error)}.') from None
    except UnicodeDecodeError:
        raise NetlistError(f'"{path}" is not a text in UTF-8.') from None
