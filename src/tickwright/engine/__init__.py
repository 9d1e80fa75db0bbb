"""Engines and what they record: traces. Imports the leaves, `rules` and `plan`; nothing heavy before it is needed."""
