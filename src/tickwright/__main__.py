"""`python -m tickwright` is the command line."""

from tickwright.cli import main

main()
