"""The command line: one file for each command. A leaf: it uses only what the packages export.

`main` is the program; `app` knows every command.
"""

from tickwright.cli.app import app, main

__all__ = ["app", "main"]
