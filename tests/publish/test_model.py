"""Models of runs: valid glTF, a node for each part, and at every moment the levels that the run showed."""

from __future__ import annotations

import base64
import json
import os
import struct
import subprocess
from bisect import bisect_right
from pathlib import Path

import pytest

from browser import chromium, opened
from conftest import need_tool
from tickwright import load
from tickwright.publish.model import glb_bytes
from tickwright.publish.scene import three_script
from tickwright.recording import record

EXAMPLES = sorted((Path(__file__).resolve().parents[2] / "examples").glob("*.toml"))
TOLD_APART = ("stacked-loop-3", "shuttle", "drain-timer", "barrier")
VALIDATE = """
const validator = require(process.argv[1]);
const reports = process.argv.slice(2).map((file) =>
  validator.validateBytes(new Uint8Array(require("fs").readFileSync(file)), { maxIssues: 20 }));
Promise.all(reports).then((all) => console.log(JSON.stringify(all.map((report) => report.issues))));
"""


def recorded(name):
    (path,) = [path for path in EXAMPLES if path.stem == name]
    return record(load(path), before_steps=10)


def test_the_validator_of_khronos_finds_nothing_wrong_with_any_example(tmp_path):
    """Source: the glTF validator of Khronos (npm gltf-validator); .ci/run installs it."""
    folder = os.environ.get("TICKWRIGHT_GLTF_VALIDATOR")
    if not folder and os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):
        pytest.fail("TICKWRIGHT_GLTF_VALIDATOR names no folder, and TICKWRIGHT_REQUIRE_TOOLS says it must be there")
    if not folder:
        pytest.skip("TICKWRIGHT_GLTF_VALIDATOR does not name the folder of the npm package gltf-validator")
    files = []
    for path in EXAMPLES:
        files.append(tmp_path / f"{path.stem}.glb")
        files[-1].write_bytes(glb_bytes(record(load(path), steps=300)))
    broken = bytearray(files[0].read_bytes())
    broken[24:44] = b"*" * 20  # the validator must be heard to complain, or its silence says nothing
    files.append(tmp_path / "broken.glb")
    files[-1].write_bytes(broken)
    command = [need_tool("node"), "-e", VALIDATE, folder, *map(str, files)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    *issues, complaint = json.loads(done.stdout)
    assert complaint["numErrors"] > 0
    found = {path.stem: issue["messages"] for path, issue in zip(EXAMPLES, issues, strict=True) if issue["messages"]}
    assert found == {}
    assert [issue["numErrors"] + issue["numWarnings"] for issue in issues] == [0] * len(EXAMPLES)


def read_glb(data):
    """The document and the binary part, by the layout that the standard gives (glTF 2.0, 4)."""
    magic, version, length = struct.unpack_from("<4sII", data)
    assert (magic, version, length) == (b"glTF", 2, len(data))
    size, kind = struct.unpack_from("<I4s", data, 12)
    assert kind == b"JSON"
    document = json.loads(data[20 : 20 + size])
    rest, kind = struct.unpack_from("<I4s", data, 20 + size)
    assert kind == b"BIN\0"
    return document, data[28 + size : 28 + size + rest]


def numbers(document, binary, accessor):
    """The floats of an accessor, a tuple for each element."""
    one = document["accessors"][accessor]
    view = document["bufferViews"][one["bufferView"]]
    wide = {"SCALAR": 1, "VEC3": 3}[one["type"]]
    values = struct.unpack_from(f"<{one['count'] * wide}f", binary, view["byteOffset"])
    return [values[i : i + wide] for i in range(0, len(values), wide)]


def scales(document, binary):
    """For each node a function from a time to its scale, as STEP samplers give it."""
    found = {}
    (animation,) = document["animations"]
    for channel in animation["channels"]:
        sampler = animation["samplers"][channel["sampler"]]
        assert (sampler["interpolation"], channel["target"]["path"]) == ("STEP", "scale")
        times = [time for (time,) in numbers(document, binary, sampler["input"])]
        found[channel["target"]["node"]] = (times, numbers(document, binary, sampler["output"]))

    def scale(node, time):
        if node in found:
            times, values = found[node]
            return values[max(bisect_right(times, time) - 1, 0)]
        return tuple(document["nodes"][node].get("scale", (1, 1, 1)))

    return scale


@pytest.mark.parametrize("name", TOLD_APART)
def test_at_each_moment_each_part_is_there_and_shows_its_level(name):
    recording = recorded(name)
    document, binary = read_glb(glb_bytes(recording))
    scale = scales(document, binary)
    nodes = document["nodes"]
    (root,) = document["scenes"][0]["nodes"]
    assert nodes[root]["name"] == recording.plan.title
    for step in range(0, recording.trace.steps, 3):
        moment, time = recording.moment(step), step / 20 + 0.01
        seen = {}
        for number in nodes[root]["children"]:
            if scale(number, time) != (1, 1, 1):
                assert scale(number, time) == (0, 0, 0)
                continue
            x, z, y = map(int, nodes[number]["translation"])  # y and z change places
            levels = [
                int(nodes[child]["name"].removeprefix("level "))
                for child in nodes[number].get("children", ())
                if scale(child, time) == (1, 1, 1)
            ]
            assert (x, y, z) not in seen, nodes[number]["name"]
            seen[x, y, z] = (nodes[number]["name"], levels)
        assert seen.keys() == moment.stands.keys()
        for cell, (text, levels) in seen.items():
            part = moment.stands[cell].part
            assert text.startswith(str(part))
            value = moment.values.get(cell, 0)
            if part.kind in ("hopper", "ejector", "crate"):  # rules.md: 0 if empty, else floor(1 + 14 × items ÷ slots)
                slots = {"hopper": 5, "ejector": 9, "crate": 27}[part.kind] * 64
                value = 0 if value == 0 else int(1 + 14 * value / slots)
            assert levels in ([value], []), text
            assert levels or part.kind in ("insulator", "piston", "pull-piston"), text


def test_the_names_of_triggers_and_outputs_stand_with_their_parts():
    document, _ = read_glb(glb_bytes(recorded("stacked-loop-3")))
    names = [node["name"] for node in document["nodes"]]
    assert "short-button at (0, 0, 1), press" in names
    assert "lamp at (2, 0, 1), lamp" in names
    assert "comparator west at (3, 0, 3)" in names


def test_another_program_plays_the_model_as_the_run_went(tmp_path):
    """Three.js reads the model with its own loader and plays it with its own mixer."""
    recording = recorded("stacked-loop-3")
    data = base64.b64encode(glb_bytes(recording)).decode()
    file = tmp_path / "model.html"
    script = f"""{three_script()}
    const {{ THREE, GLTFLoader }} = THREE_BUNDLE;
    const bytes = Uint8Array.from(atob("{data}"), (character) => character.charCodeAt(0));
    window.model = new GLTFLoader().parseAsync(bytes.buffer, "").then(({{ scene, animations }}) => {{
      const mixer = new THREE.AnimationMixer(scene);
      mixer.clipAction(animations[0]).play();
      return {{ scene, mixer, seconds: animations[0].duration }};
    }});
    window.shown = async (time) => {{
      const {{ scene, mixer }} = await window.model;
      mixer.setTime(time);
      const found = {{}};
      scene.traverse((node) => {{
        const name = node.userData.name || "";
        if (name.startsWith("level ") && node.scale.x === 1) found[node.parent.userData.name] = Number(name.slice(6));
      }});
      return found;
    }};"""
    file.write_text(f"<!doctype html><script>{script}</script>", encoding="utf-8")
    with chromium(need_tool("chromium")) as browser, opened(browser, file) as seen:
        for step in (0, 12, 40, 60, 100):
            found = seen.page.evaluate("(time) => shown(time)", step / 20 + 0.01)
            assert found["lamp at (2, 0, 1), lamp"] == recording.trace.value_at("lamp", step)
            assert found["wire at (2, 0, 2), entry"] == recording.trace.value_at("entry", step)
        assert seen.complaints == []
