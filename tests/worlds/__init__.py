"""Random worlds for comparing engines: `generator` makes them of `fragments`, `seen` counts the rules they reach,
`differ` runs two engines on one and says where they first differ, `shrink` makes the world small, `corpus` keeps it.

Helpers of the tests; nothing of the project imports them.
"""
