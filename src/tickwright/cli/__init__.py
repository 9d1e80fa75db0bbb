"""The command line: one file for each command. A leaf: it uses only what the packages export.

`main` runs the program, with no more than the command it is asked for; `app.program` makes it with all of them.
"""

from __future__ import annotations

from tickwright.lazy import lazy_exports

TYPE_CHECKING = False  # as in tickwright itself
if TYPE_CHECKING:
    from tickwright.cli.app import program
    from tickwright.cli.samples import SAMPLES

__all__ = ["SAMPLES", "main", "program"]

__getattr__ = lazy_exports(__name__, {"app": ("program",), "samples": ("SAMPLES",)})


def main() -> None:
    """Run the command line and leave with its exit code. Ctrl-C ends it from the first moment on."""
    try:
        import signal

        from tickwright.cli.stopping import leave

        signal.signal(signal.SIGINT, leave)
    except KeyboardInterrupt:
        import os

        os.write(2, b"Stopped.\n")
        raise SystemExit(130) from None
    from tickwright.cli.app import run_program

    run_program()
