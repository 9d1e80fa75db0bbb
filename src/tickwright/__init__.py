"""Tickwright: design, run, verify, compare and publish timing circuits made of blocks."""
