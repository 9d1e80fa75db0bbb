"""One file for each family of circuits: what it makes, its limits, and a naive model of its hold."""
