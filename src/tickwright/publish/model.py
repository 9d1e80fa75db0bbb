"""glTF 2.0 models (.glb) of a run: a node for each part, and an animation of what each shows.

Only what the core of the standard holds is used (Khronos glTF 2.0, ISO/IEC 12113:2022): a part has a body and one
coloured piece for each level it shows, and the animation scales all but the present one to nothing, step by step, which
viewers take as not drawn (glTF 2.0, 3.7.4).
"""

from __future__ import annotations

import json
import struct
from collections.abc import Sequence
from typing import Any, NamedTuple

from tickwright.durations import STEPS_PER_SECOND
from tickwright.engine.trace import Changes
from tickwright.kinds import CONTAINERS, LAMPS
from tickwright.publish.pieces import Face, Point, Solid
from tickwright.publish.solids import stand_solid
from tickwright.publish.tokens import THEMES, level_colour, level_ink
from tickwright.recording import Recording
from tickwright.rules.layout import Layout, Stand
from tickwright.space import Cell, cell_text, zyx

FLOAT, UNSIGNED_INT = 5126, 5125
VERTICES, INDICES = 34962, 34963
BODY_ROLES = {"body": "block", "pale": "panel", "ink": "ink"}
LEVEL_ROLES = ("level", "mark", "glow")
TINT = 0.45  # how much of its level a block that conducts shows
SHOWN, HIDDEN = (1.0, 1.0, 1.0), (0.0, 0.0, 0.0)
ROUGH = 0.9


class _Figure(NamedTuple):
    """What stands in a cell for a while: how it looks, and what it is called."""

    solid: Solid
    text: str


def glb_bytes(recording: Recording) -> bytes:
    """The run as the bytes of a .glb file, the same for the same run.

    One unit is a cell: x is east, y up, z south. The animation "levels" lasts as long as the run, at 20 steps a second;
    without playing it the model shows the start of the run.
    """
    build = _Build(recording)
    data = build.document()
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode("utf-8")
    text += b" " * (-len(text) % 4)
    binary = bytes(build.binary) + b"\0" * (-len(build.binary) % 4)
    length = 12 + 8 + len(text) + 8 + len(binary)
    return (
        struct.pack("<4sII", b"glTF", 2, length)
        + struct.pack("<I4s", len(text), b"JSON")
        + text
        + struct.pack("<I4s", len(binary), b"BIN\0")
        + binary
    )


class _Build:
    """The lists of the document while it grows; equal meshes, materials and times are kept once."""

    def __init__(self, recording: Recording) -> None:
        self.recording = recording
        self.binary = bytearray()
        self.views: list[dict[str, Any]] = []
        self.accessors: list[dict[str, Any]] = []
        self.meshes: list[dict[str, Any]] = []
        self.materials: list[dict[str, Any]] = []
        self.nodes: list[dict[str, Any]] = []
        self.samplers: list[dict[str, Any]] = []
        self.channels: list[dict[str, Any]] = []
        self._known: dict[Any, int] = {}

    def document(self) -> dict[str, Any]:
        """The whole document; the binary part is complete after it."""
        recording = self.recording
        figures = _figures(recording)
        children = []
        names = {
            cell: name for table in (recording.plan.triggers, recording.plan.outputs) for name, cell in table.items()
        }
        for cell in sorted(figures, key=zyx):
            levels = _levels(recording, cell)
            for figure, times in figures[cell].items():
                children.append(self._part(cell, figure, times, levels, names.get(cell)))
        self.nodes.append({"name": recording.plan.title or "Plan", "children": children})
        data: dict[str, Any] = {
            "asset": {"version": "2.0", "generator": "tickwright"},
            "scene": 0,
            "scenes": [{"name": recording.plan.title or "Plan", "nodes": [len(self.nodes) - 1]}],
            "nodes": self.nodes,
            "meshes": self.meshes,
            "materials": self.materials,
            "accessors": self.accessors,
            "bufferViews": self.views,
            "buffers": [{"byteLength": len(self.binary) + -len(self.binary) % 4}],
        }
        if self.channels:
            data["animations"] = [{"name": "levels", "samplers": self.samplers, "channels": self.channels}]
        return data

    def _part(self, cell: Cell, figure: _Figure, there: Changes, levels: Changes, name: str | None) -> int:
        """The node of what stands in a cell, with its coloured pieces below it."""
        node: dict[str, Any] = {"name": f"{figure.text} at {cell_text(cell)}" + (f", {name}" if name else "")}
        x, y, z = cell
        node["translation"] = [x, z, y]
        body = [face for face in figure.solid.faces if face.role in BODY_ROLES]
        if body:
            node["mesh"] = self._mesh(figure, None)
        children = []
        if any(face.role in LEVEL_ROLES for face in figure.solid.faces):
            for level in sorted({level for _, level in levels}):
                children.append(len(self.nodes))
                piece = {"name": f"level {level}", "mesh": self._mesh(figure, level)}
                self.nodes.append(piece)
                self._show(piece, children[-1], _when(levels, level))
        if children:
            node["children"] = children
        self.nodes.append(node)
        self._show(node, len(self.nodes) - 1, there)
        return len(self.nodes) - 1

    def _show(self, node: dict[str, Any], number: int, when: Changes) -> None:
        """Show the node when the change list is 1; `when` begins with step 0."""
        if not when[0][1]:
            node["scale"] = list(HIDDEN)
        if len(when) == 1:
            return
        key = ("sampler", when)
        if key not in self._known:
            times = [step / STEPS_PER_SECOND for step, _ in when]
            scales = [value for _, shown in when for value in (SHOWN if shown else HIDDEN)]
            self._known[key] = len(self.samplers)
            self.samplers.append(
                {
                    "input": self._accessor(times, "SCALAR", bounds=True),
                    "output": self._accessor(scales, "VEC3"),
                    "interpolation": "STEP",
                }
            )
        self.channels.append({"sampler": self._known[key], "target": {"node": number, "path": "scale"}})

    def _mesh(self, figure: _Figure, level: int | None) -> int:
        """The mesh of a figure's body, or of its coloured pieces at a level."""
        roles = tuple(BODY_ROLES) if level is None else LEVEL_ROLES
        key = ("mesh", figure.solid, level)
        if key not in self._known:
            used = {face.role for face in figure.solid.faces}
            kind = figure.text.split(maxsplit=1)[0]
            self._known[key] = len(self.meshes)
            self.meshes.append(
                {
                    "name": f"{kind}, body" if level is None else f"{kind}, level {level}",
                    "primitives": [
                        self._primitive(figure.solid, role, level, lamp=kind in LAMPS) for role in roles if role in used
                    ],
                }
            )
        return self._known[key]

    def _primitive(self, solid: Solid, role: str, level: int | None, *, lamp: bool) -> dict[str, Any]:
        key = ("faces", solid, role)
        if key not in self._known:
            positions, normals, indices = _triangles([face for face in solid.faces if face.role == role])
            self._known[key] = len(self.accessors)
            self._accessor(positions, "VEC3", VERTICES, bounds=True)
            self._accessor(normals, "VEC3", VERTICES)
            self._accessor(indices, "SCALAR", INDICES)
        first = self._known[key]
        return {
            "attributes": {"POSITION": first, "NORMAL": first + 1},
            "indices": first + 2,
            "material": self._material(_colour(role, level, lamp=lamp)),
        }

    def _material(self, colour: str) -> int:
        key = ("material", colour)
        if key not in self._known:
            self._known[key] = len(self.materials)
            self.materials.append(
                {
                    "name": colour,
                    "pbrMetallicRoughness": {
                        "baseColorFactor": [*_linear(colour), 1.0],
                        "metallicFactor": 0.0,
                        "roughnessFactor": ROUGH,
                    },
                }
            )
        return self._known[key]

    def _accessor(self, values: Sequence[float], sort: str, target: int | None = None, *, bounds: bool = False) -> int:
        """Append numbers to the binary part; floats, or unsigned integers for indices. `bounds`: with min and max."""
        whole = target == INDICES
        packed = struct.pack(f"<{len(values)}{'I' if whole else 'f'}", *values)
        view: dict[str, Any] = {"buffer": 0, "byteOffset": len(self.binary), "byteLength": len(packed)}
        if target is not None:
            view["target"] = target
        self.binary += packed
        wide = {"SCALAR": 1, "VEC3": 3}[sort]
        accessor: dict[str, Any] = {
            "bufferView": len(self.views),
            "componentType": UNSIGNED_INT if whole else FLOAT,
            "count": len(values) // wide,
            "type": sort,
        }
        if bounds:
            stored = struct.unpack(f"<{len(values)}f", packed)
            accessor["min"] = [min(stored[axis::wide]) for axis in range(wide)]
            accessor["max"] = [max(stored[axis::wide]) for axis in range(wide)]
        self.views.append(view)
        self.accessors.append(accessor)
        return len(self.accessors) - 1


def _figures(recording: Recording) -> dict[Cell, dict[_Figure, Changes]]:
    """For each cell what ever stood there, each with its change list of 1 (there) and 0 (not there) from step 0."""
    lists: dict[Cell, dict[_Figure, list[tuple[int, int]]]] = {}
    for step, stands in recording.scenes:
        layout = Layout(stands, recording.rules)
        here = {cell: _Figure(stand_solid(layout, cell, stand), _text(stand)) for cell, stand in stands.items()}
        for cell in {*lists, *here}:
            figures = lists.setdefault(cell, {})
            figure = here.get(cell)
            if figure is not None and figure not in figures:
                figures[figure] = [] if step == 0 else [(0, 0)]
            for one, changes in figures.items():
                there = int(one == figure)
                if not changes or changes[-1][1] != there:
                    changes.append((step, there))
    return {cell: {one: tuple(changes) for one, changes in table.items()} for cell, table in lists.items()}


def _text(stand: Stand) -> str:
    return str(stand.part) if stand.posture == "rest" else f"{stand.part} ({stand.posture})"


def _levels(recording: Recording, cell: Cell) -> Changes:
    """What the cell shows as levels: a container its fill level."""
    changes = recording.shown[cell]
    kinds = {stands[cell].part.kind for _, stands in recording.scenes if cell in stands}
    container = next((kind for kind in kinds if kind in CONTAINERS), None)
    if container is None:
        return changes
    return tuple((step, recording.rules.fill_level(container, count)) for step, count in changes)


def _when(levels: Changes, level: int) -> Changes:
    """The change list of whether it is that level."""
    found: list[tuple[int, int]] = []
    for step, value in levels:
        if not found or found[-1][1] != (value == level):
            found.append((step, int(value == level)))
    return tuple(found)


def _triangles(faces: Sequence[Face]) -> tuple[list[float], list[float], list[int]]:
    """Positions, normals and indices of faces, each split into triangles that fan from its first corner."""
    positions: list[float] = []
    normals: list[float] = []
    indices: list[int] = []
    for face in faces:
        first = len(positions) // 3
        corners = [_to_gltf(corner) for corner in face.corners]
        normal = _normal(corners)
        for corner in corners:
            positions += corner
            normals += normal
        for i in range(2, len(corners)):
            indices += (first, first + i - 1, first + i)
    return positions, normals, indices


def _to_gltf(point: Point) -> Point:
    return (point[0], point[2], point[1])


def _normal(corners: Sequence[Point]) -> Point:
    """The unit normal of a flat face whose corners run anticlockwise, in right-handed coordinates."""
    (ax, ay, az), (bx, by, bz), (cx, cy, cz) = corners[:3]
    u, w = (bx - ax, by - ay, bz - az), (cx - bx, cy - by, cz - bz)
    x, y, z = u[1] * w[2] - u[2] * w[1], u[2] * w[0] - u[0] * w[2], u[0] * w[1] - u[1] * w[0]
    length = (x * x + y * y + z * z) ** 0.5
    return (x / length, y / length, z / length)


def _colour(role: str, level: int | None, *, lamp: bool) -> str:
    tones = THEMES["light"]
    if level is None:
        return tones[BODY_ROLES[role]]
    if lamp and level:
        return tones["amber" if role == "level" else "amberink"]
    if role == "level":
        return level_colour(tones, level)
    if role == "mark":
        return level_ink(tones, level)
    if not level:
        return tones["block"]
    pair = zip(_channels(tones["block"]), _channels(level_colour(tones, level)), strict=True)
    return "#" + "".join(f"{round(a + (b - a) * TINT):02x}" for a, b in pair)


def _channels(colour: str) -> list[int]:
    return [int(colour[place : place + 2], 16) for place in (1, 3, 5)]


def _linear(colour: str) -> list[float]:
    """The channels of an sRGB colour as linear light, as glTF wants them. Source: IEC 61966-2-1."""
    parts = [value / 255 for value in _channels(colour)]
    return [round(part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4, 6) for part in parts]
