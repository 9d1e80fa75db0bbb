"""Cells and directions: x grows east, y grows south, z grows up."""

from __future__ import annotations

__all__ = [
    "CLOCKWISE",
    "DIRECTIONS",
    "FLANKS",
    "HORIZONTAL",
    "OPPOSITE",
    "VECTORS",
    "Cell",
    "along",
    "beside",
    "cell_text",
    "taxicab_ball",
    "zyx",
]

Cell = tuple[int, int, int]

VECTORS: dict[str, Cell] = {
    "north": (0, -1, 0),
    "south": (0, 1, 0),
    "east": (1, 0, 0),
    "west": (-1, 0, 0),
    "up": (0, 0, 1),
    "down": (0, 0, -1),
}
DIRECTIONS = tuple(VECTORS)
HORIZONTAL = DIRECTIONS[:4]
OPPOSITE = {"north": "south", "south": "north", "east": "west", "west": "east", "up": "down", "down": "up"}
FLANKS = {
    "north": ("west", "east"),
    "south": ("west", "east"),
    "east": ("north", "south"),
    "west": ("north", "south"),
}
CLOCKWISE = {"north": "east", "east": "south", "south": "west", "west": "north", "up": "up", "down": "down"}


def beside(cell: Cell, direction: str) -> Cell:
    """The neighbour of `cell` in `direction`.

    >>> beside((2, 0, 1), "up")
    (2, 0, 2)
    """
    dx, dy, dz = VECTORS[direction]
    return (cell[0] + dx, cell[1] + dy, cell[2] + dz)


def along(cell: Cell, direction: str, distance: int) -> Cell:
    """The cell `distance` cells from `cell` in `direction`."""
    dx, dy, dz = VECTORS[direction]
    return (cell[0] + dx * distance, cell[1] + dy * distance, cell[2] + dz * distance)


def taxicab_ball(radius: int) -> tuple[Cell, ...]:
    """All offsets with |dx| + |dy| + |dz| ≤ radius, the centre included, in (z, y, x) order."""
    reach = range(-radius, radius + 1)
    return tuple((dx, dy, dz) for dz in reach for dy in reach for dx in reach if abs(dx) + abs(dy) + abs(dz) <= radius)


def zyx(cell: Cell) -> Cell:
    """The sort key of the canonical order of telling: by z, then y, then x."""
    return (cell[2], cell[1], cell[0])


def cell_text(cell: Cell) -> str:
    """The cell as messages write it: '(2, 0, 1)'."""
    return f"({cell[0]}, {cell[1]}, {cell[2]})"
