"""One file for each family of circuits: what it makes, its limits, and a naive model of its hold.

Each has `NAME` and `recipes(goal)`, which yields what it proposes for a goal.
"""
