"""The command line: one file for each command. A leaf: it uses only what the packages export.

`main` runs the program, with no more than the command it is asked for; `program` makes it with all of them.
"""

from tickwright.cli.app import main, program

__all__ = ["main", "program"]
