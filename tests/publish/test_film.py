"""Films: their clock, captions that match it, pictures judged for flashing, files that other programs read."""

from __future__ import annotations

import io
import itertools
import re
import struct
import subprocess
import tempfile
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import pytest
from PIL import Image

from pictures import cells_of
from tickwright import loads
from tickwright.errors import UsageError
from tickwright.plan import Plan, load
from tickwright.publish.film import captions, gif_bytes, make_film, mp4_bytes, schedule, srt_text, vtt_text
from tickwright.publish.film.clock import edges_of
from tickwright.publish.film.encode import RATE, Shot, frame_counts
from tickwright.publish.film.frames import Stage, frame_drawing
from tickwright.publish.film.painting import Painter
from tickwright.publish.film.telling import Caption, readable, stamp
from tickwright.publish.raster import png_bytes
from tickwright.publish.sheet import filmed
from tickwright.recording import record

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
LAMP = """format = "tickwright plan 1"
title = "Bell & lamp --> <i>"
legend = {"#" = "block", b = "short-button", L = "lamp"}
layer = [{rows = "#"}, {rows = "bL"}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [1, 0, 1]}"""


@pytest.fixture(scope="module")
def lamp():
    return record(loads(LAMP), before_steps=20)


def test_the_clock_begins_before_the_press_and_is_slow_round_the_edges(lamp):
    clock = schedule([lamp])
    # Seen from 10 steps before the press at 0; the lamp goes on at 0 and off at 24: slow are -3..4 and 21..28.
    assert (clock.first_step, clock.at(-10), clock.at(-3)) == (-10, 0.0, pytest.approx(7 * 0.05))
    assert clock.at(5) - clock.at(-3) == pytest.approx(8 * 0.2)
    assert clock.at(21) - clock.at(6) == pytest.approx(15 * 0.05)
    assert clock.shots == (-10, 0, 20, 24)
    assert clock.seconds == pytest.approx(clock.at(44) + 1.5)
    assert [clock.shot_at(clock.at(step)) for step in (-10, -1, 0, 19, 20, 40)] == [-10, -10, 0, 0, 20, 24]


def test_speed_and_slowness_scale_the_clock(lamp):
    plain = schedule([lamp], slow=1.0)
    assert plain.at(44) == pytest.approx(54 * 0.05)
    assert schedule([lamp], speed=2.0, slow=1.0).at(44) == pytest.approx(54 * 0.025)
    assert plain.slower(3).at(44) == pytest.approx(3 * plain.at(44))
    assert plain.slower(3).seconds - plain.slower(3).at(44) == pytest.approx(1.5)


@pytest.mark.parametrize(("speed", "slow"), [(0, 1), (-1, 1), (1, 0), (float("nan"), 1), (1, 1e9)])
def test_a_speed_that_no_one_can_watch_is_refused(lamp, speed, slow):
    with pytest.raises(UsageError, match="A film cannot be made with --s"):
        schedule([lamp], speed, slow)


def test_captions_tell_what_happened_when_it_is_seen(lamp):
    clock = schedule([lamp])
    told = captions([lamp], clock)
    assert [(cue.step, cue.text) for cue in told] == [
        (0, "press is pressed. lamp comes on, 0 s after the press."),
        (20, "press is off again after 1 s. lamp goes off: it held 1.2 s."),
        (44, "all is at rest."),
    ]
    assert [cue.begin for cue in told] == [clock.at(cue.step) for cue in told]
    assert told[-1].end == clock.seconds


def test_what_two_designs_do_alike_is_told_once():
    two = [record(load(EXAMPLES / f"{name}.toml"), before_steps=20) for name in ("stacked-loop-3", "flat-loop-6")]
    told = captions(two, schedule(two))
    assert told[0].lines[0] == "Both: press is pressed."
    both = schedule(two)
    assert both.seconds >= max(schedule([run]).seconds for run in two)


def test_what_is_told_is_seen_in_its_own_picture(lamp):
    # "All is at rest" comes 20 steps after the last change, and has a picture all the same.
    film = make_film([lamp])
    assert film.clock.shots == (-10, 0, 20, 24, 44)
    assert {cue.step for cue in film.captions} <= set(film.clock.shots)


def test_designs_of_one_name_are_told_apart():
    plan = load(EXAMPLES / "edge-detector.toml")
    other = replace(plan, outputs={"bell": next(iter(plan.outputs.values()))})
    two = [record(one, before_steps=20) for one in (plan, other)]
    lines = [line for cue in captions(two, schedule(two)) for line in cue.lines]
    assert any(line.startswith(f"{plan.title} (1): edge comes on") for line in lines)
    assert any(line.startswith(f"{plan.title} (2): bell goes off") for line in lines)


def test_each_of_several_designs_bears_the_number_of_its_lanes(lamp):
    other = record(load(EXAMPLES / "edge-detector.toml"), before_steps=20)
    runs = (lamp, other)
    clock = schedule(runs)
    drawing = frame_drawing(Stage(runs, clock, tuple(captions(runs, clock)), "light", "south-east"), 0)
    texts = [mark.text for group in drawing.groups for mark in group.marks if mark.form == "text"]
    assert f"1: {lamp.plan.title}" in texts
    assert f"2: {other.plan.title}" in texts
    assert {"1 press", "1 lamp"} <= set(texts)
    assert {f"2 {name}" for name in (*other.plan.triggers, *other.plan.outputs)} <= set(texts)


def test_what_never_rests_is_counted_not_told_pulse_by_pulse():
    run = record(load(EXAMPLES / "torch-clock.toml"), before_steps=20)
    run = run.until(run.pressed_at_step + 120)
    # The ring's period is 2 x 3 ticks (T = 2 N t), and it is on for the first time a tick after the flip: at 2, 14, ...
    told = captions([run], schedule([run], slow=1.0))
    lines = [line for cue in told for line in cue.lines]
    assert "beat goes on so: it comes on 10 times in this run." in lines
    assert sum("comes on for the" in line for line in lines) == 3
    assert not [line for line in lines if "last off" in line]
    assert lines[-1] == "it goes on; the film ends."


def test_what_comes_before_the_press_has_no_delay_and_what_comes_before_the_film_is_not_told():
    plan = loads(LAMP.replace('rows = "#"', 'rows = "#####"').replace('rows = "bL"', 'rows = "prL.b"')
                 .replace("[0, 0, 1]", "[4, 0, 1]").replace("[1, 0, 1]", "[2, 0, 1]")
                 .replace('"#" = "block"', '"#" = "block", p = "power-block", r = "repeater east"'))  # fmt: skip
    seen = record(plan, before_steps=5)
    assert captions([seen], schedule([seen]))[0].lines[0] == "lamp comes on."
    unseen = record(plan, before_steps=20)
    assert captions([unseen], schedule([unseen]))[0].lines[0] == "press is pressed."


def test_of_what_is_on_at_rest_the_absence_is_told():
    # The press comes to the block 8 steps later, its torch goes off 2 after that, and the lamp 4 after the torch.
    run = record(load(EXAMPLES / "standing-light.toml"), before_steps=20)
    lines = [line for cue in captions([run], schedule([run])) for line in cue.lines if "lamp" in line]
    assert lines == [
        "lamp goes off, 0.7 s after the press.",
        "lamp is on again: it was off for 0.8 s.",
    ]
    assert edges_of(run) == [14, 30]


# The grammar of W3C WebVTT as far as these files use it: header, blocks of identifier, timings and payload.
TIME = r"(\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3})"
BLOCK = re.compile(rf"(?P<id>[^\n]+)\n(?P<begin>{TIME}) --> (?P<end>{TIME})\n(?P<text>(?:[^\n]+\n?)+)")


@pytest.mark.parametrize("name", ["taps", "flat-loop-4", "torch-clock", "hopper-clock", "shuttle"])
def test_webvtt_keeps_to_the_grammar(name):
    run = record(load(EXAMPLES / f"{name}.toml"), before_steps=20)
    text = vtt_text(captions([run], schedule([run])))
    head, *blocks = text.rstrip("\n").split("\n\n")
    assert head == "WEBVTT"
    assert blocks
    times = []
    for block in blocks:
        found = BLOCK.fullmatch(block)
        assert found, block
        assert "-->" not in found["text"]
        assert not re.search(r"<|&(?!amp;|lt;|gt;)", found["text"])
        times.append((found["begin"], found["end"]))
    assert all(begin < end for begin, end in times)
    assert all(one[0] <= two[0] and one[1] <= two[0] for one, two in pairwise(times))


READ = {"edge-detector", "shuttle", "shuttle-clock", "pulse-shortener", "flat-loop-2", "torch-clock", "drain-timer"}


@pytest.mark.parametrize("name", sorted(READ))
def test_captions_of_a_file_are_no_quicker_than_people_read(name):
    run = filmed(record(load(EXAMPLES / f"{name}.toml"), before_steps=20))
    said = captions([run], schedule([run]))
    told = readable(said)
    assert told[0].lines[0] == said[0].lines[0]
    for cue in told:
        assert len(cue.text) / (cue.end - cue.begin) <= 20.001
        assert 0 <= cue.begin - next(one.begin for one in said if one.step == cue.step) <= 1.5
    assert all(one.end <= other.begin for one, other in pairwise(told))
    assert told[-1].end <= said[-1].end


def test_a_title_cannot_break_the_caption_files():
    cue = Caption(0, 0.0, 9.0, ("a\n\n9\n00:00:00.000 --> 00:00:09.000\n<b>&", "паром"))
    assert vtt_text([cue]) == (
        "WEBVTT\n\n1\n00:00:00.000 --> 00:00:09.000\na 9 00:00:00.000 -&gt; 00:00:09.000 &lt;b&gt;&amp;\nпаром\n"
    )
    assert srt_text([cue]).startswith("1\n00:00:00,000 --> 00:00:09,000\na 9 00:00:00.000 -> 00:00:09.000 <b>&\nпаром")


def test_stamps_have_three_digits_and_go_past_an_hour():
    assert [stamp(value) for value in (0, 0.9996, 59.9999, 3600)] == [
        "00:00:00.000", "00:00:00.999", "00:00:59.999", "01:00:00.000",
    ]  # fmt: skip


def test_a_film_as_gif_and_mp4_keeps_its_time(lamp):
    film = make_film([lamp])
    assert (film.slowed, film.note, film.flashing.safe) == (1, "", True)
    assert sum(shot.seconds for shot in film.shots) == pytest.approx(film.clock.seconds)
    with Image.open(io.BytesIO(gif_bytes(film.shots))) as gif:
        lengths = []
        for number in range(gif.n_frames):
            gif.seek(number)
            lengths.append(gif.info["duration"])
        assert (gif.n_frames, gif.size) == (len(film.shots), film.shots[0].picture.size)
    assert sum(lengths) == pytest.approx(1000 * film.clock.seconds, abs=10)
    assert lengths[0] == pytest.approx(1000 * film.clock.at(0), abs=10)


def lasting_of(mp4):
    """How long each frame of an MP4 is shown, in seconds: ISO/IEC 14496-12, 8.4.2 and 8.6.1."""
    at = mp4.index(b"mdhd") + 4
    units = struct.unpack_from(">I", mp4, at + 12)[0]
    at = mp4.index(b"stts") + 4
    rows = struct.iter_unpack(">II", mp4[at + 8 : at + 8 + 8 * struct.unpack_from(">I", mp4, at + 4)[0]])
    return [length / units for count, length in rows for _ in range(count)]


def test_an_mp4_holds_each_picture_once_and_a_decoder_shows_it_when_it_is_due(lamp, tmp_path):
    film = make_film([lamp])
    path = tmp_path / "film.mp4"
    path.write_bytes(mp4_bytes(film.shots))
    lasting = lasting_of(path.read_bytes())
    assert len(lasting) == len(film.shots) + 1  # the last is cut in two, for of itself a last frame lasts one 25th
    lasting = [*lasting[:-2], lasting[-2] + lasting[-1]]
    ends = zip(itertools.accumulate(lasting), itertools.accumulate(shot.seconds for shot in film.shots), strict=True)
    assert all(abs(seen - due) <= 0.5 / RATE + 1e-9 for seen, due in ends)
    wide, high = (length // 2 * 2 for length in film.shots[0].picture.size)
    part = np.s_[high - 160 : high, :wide]  # lanes and caption
    command = [
        imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-i", str(path), "-r", str(RATE),
        "-vf", f"crop={wide}:160:0:{high - 160}", "-f", "rawvideo", "-pix_fmt", "rgb24", "-",
    ]  # fmt: skip
    data = subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout
    shown = np.frombuffer(data, np.uint8).reshape(-1, 160, wide, 3)
    counts = list(frame_counts(film.shots))
    due = [number for number, count in enumerate(counts) for _ in range(count)]
    assert len(shown) == len(due) == round(film.clock.seconds * RATE)
    parts = [np.asarray(shot.picture)[part][::2, ::2].astype(int) for shot in film.shots]
    for seen, number in zip(shown[::3], due[::3], strict=True):
        apart = [np.abs(seen[::2, ::2] - picture).mean() for picture in parts]
        assert int(np.argmin(apart)) == number
        assert apart[number] < 1.5  # of 255: what is lost in encoding; the ground is as it was
        assert np.abs(seen[0, 2] - parts[number][0, 1]).max() <= 1


def test_a_film_that_finds_no_room_says_so_in_one_message(lamp, monkeypatch, tmp_path):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    with pytest.raises(UsageError, match="could not be put together in the folder for temporary files"):
        mp4_bytes([Shot(Image.new("RGB", (4, 4)), 1.0)])


@pytest.mark.parametrize(("seconds", "lasting"), [((0.01,), [0.04]), ((0.04, 0.01, 2.0), [0.04, 1.96, 0.04])])
def test_short_shots_are_left_out_and_the_last_is_seen_as_long_as_it_should(seconds, lasting):
    shots = [Shot(Image.new("RGB", (16, 16), (60 * number,) * 3), one) for number, one in enumerate(seconds)]
    assert lasting_of(mp4_bytes(shots)) == pytest.approx(lasting)


def test_the_line_of_the_present_covers_no_number():
    """In the loop of six every level stands in its bar long enough to be numbered; the line passes through them all."""
    run = record(load(EXAMPLES / "flat-loop-6.toml"), before_steps=20)
    clock = schedule([run])
    stage, broken = Stage((run,), clock, (), "light", "south-east"), 0
    for step in clock.shots:
        marks = [mark for group in frame_drawing(stage, step).groups for mark in group.marks]
        line = [mark for mark in marks if mark.form == "line" and mark.width in (2.5, 5)]
        x = line[0].points[0][0]
        assert all(mark.points[0][0] == x for mark in line)
        head = [mark.points for mark in line if mark.width == 2.5]
        broken += len(head) > 1
        for text in (mark for mark in marks if mark.form == "text"):
            wide, high = len(text.text) * text.radius * 0.4, text.radius * 0.4  # less than any letters take
            left = text.points[0][0] - wide * {"start": 0, "middle": 0.5, "end": 1}[text.anchor]
            for (_, begin), (_, end) in head:
                across = left < x < left + wide
                assert not (across and begin < text.points[0][1] + high and text.points[0][1] - high < end), text
        assert sum(end - begin for (_, begin), (_, end) in head) > 30
    assert broken > 3


def test_every_shot_of_an_mp4_gets_the_frames_that_begin_in_it():
    shots = [Shot(Image.new("RGB", (4, 4)), seconds) for seconds in (0.03, 0.03, 0.1, 0.0)]
    assert list(frame_counts(shots)) == [1, 1, 2, 1]


def blinking_floor():
    """A beat of 12 steps over a whole floor of lamps, so that it is the lamps that fill the picture."""
    lamps = "\n".join(["L" * 6] * 6)
    wires = "\n".join(["w" * 6] * 5 + ["w" * 5 + "l"])
    return loads(f"""format = "tickwright plan 1"
legend = {{L = "lamp", w = "wire", l = "lever"}}
triggers = {{beat = [5, 5, 1]}}
outputs = {{lamp = [0, 0, 0]}}
[[layer]]
rows = '''
{lamps}
'''
[[layer]]
rows = '''
{wires}
'''""")


def test_what_would_flash_is_slowed_unless_it_is_allowed():
    hand = [f"{20 + 2 * turn}:beat:flip" for turn in range(16)]
    run = record(blinking_floor(), hand, steps=60)
    film = make_film([run], slow=1.0)
    assert film.slowed > 1
    assert film.flashing.safe
    assert film.note.startswith(f"The film runs {film.slowed} times slower than asked for: it would have ")
    asked = make_film([run], slow=1.0, allow_flashing=True)
    assert (asked.slowed, asked.flashing.safe) == (1, False)
    assert asked.note.startswith("Warning: the film has ")
    assert film.clock.seconds > asked.clock.seconds


def test_no_side_of_a_film_is_longer_than_1920_pixels():
    row = "b" + "w" * 58 + "L"
    legend = {"#": "block", "b": "short-button", "w": "wire", "L": "lamp"}
    wide = Plan(cells_of(["#" * 60, row], legend), {"press": (0, 0, 1)}, {"lamp": (59, 0, 1)})
    film = make_film([record(wide, steps=16)])
    assert max(film.shots[0].picture.size) in (1919, 1920)


def test_what_is_set_anew_is_what_a_whole_picture_has_there():
    run = record(load(EXAMPLES / "flat-loop-6.toml"), before_steps=10)
    clock = schedule([run])
    for scale in (1.0, 0.7):
        painter = Painter(Stage((run,), clock, tuple(captions([run], clock)), "light", "south-east"), scale)
        pictures = [painter.picture(step) for step in clock.shots[:24]]
        anew = np.asarray(Image.open(io.BytesIO(png_bytes(painter._drawing, 1.0))).convert("RGB")).astype(int)
        apart = np.abs(np.asarray(pictures[-1]).astype(int) - anew).max(axis=2) > 90  # the rims of letters may differ
        assert np.asarray(pictures[0]).shape == np.asarray(pictures[-1]).shape
        assert (np.asarray(pictures[0]) != np.asarray(pictures[-1])).any()
        assert apart.mean() < 0.001


def test_a_picture_says_one_sentence_at_a_time():
    run = record(load(EXAMPLES / "flat-loop-6.toml"), before_steps=10)
    clock = schedule([run])
    said = tuple(captions([run], clock))
    stage = Stage((run,), clock, said, "light", "south-east")
    assert len(said[0].lines) > 1  # told together, for they come within a second
    lines = {line for cue in said for line in cue.lines}
    for step in clock.shots:
        texts = [
            mark.text for group in frame_drawing(stage, step).groups for mark in group.marks if mark.form == "text"
        ]
        assert sum(any(text.startswith(line[:20]) for line in lines) for text in texts) <= 1


def test_each_picture_says_how_fast_the_world_goes():
    """By hand: at twice the speed a step lasts 0.025 s of the film, and round an edge five times as long: 0.125 s."""
    plan = load(EXAMPLES / "flat-loop-2.toml")  # the lamp is lit from step 2 to step 54, as its file promises
    run = record(plan)
    clock = schedule([run], speed=2.0, slow=5.0)
    stage = Stage((run,), clock, (), "light", "south-east")

    def said(step):
        marks = [mark for group in frame_drawing(stage, step).groups for mark in group.marks]
        return [mark.text for mark in marks if mark.form == "text" and "after the press" in mark.text]

    assert clock.pace(2) == pytest.approx(0.4)
    assert said(2) == ["0.10 s (1 tick) after the press; 2.5 times slower"]
    assert said(30) == ["1.50 s (15 ticks) after the press; 2 times faster"]
    assert clock.slower(4).pace(30) == pytest.approx(0.5)


def test_the_usual_act_of_a_script_is_told_as_what_it_is():
    run = record(load(EXAMPLES / "flat-loop-2.toml"), ["0:press"], 60)
    assert captions([run], schedule([run]))[0].lines[0] == "press is pressed."
    run = record(load(EXAMPLES / "flat-loop-2.toml"), ["0:press:place=lever", "2:press"], 60)
    told = [line for one in captions([run], schedule([run])) for line in one.lines]
    assert told[:2] == ["press becomes a lever.", "press is flipped."]


def test_lanes_and_caption_of_a_wide_film_are_as_readable_as_of_a_narrow_one():
    wide = loads(LAMP.replace('rows = "#"', 'rows = "' + "#" * 60 + '"'))
    run, share = record(wide), {}
    for plan in (loads(LAMP), wide):
        run = record(plan)
        clock = schedule([run])
        drawing = frame_drawing(Stage((run,), clock, tuple(captions([run], clock)), "light", "south-east"), 8)
        said = [mark for group in drawing.groups for mark in group.marks if mark.form == "text"]
        sizes = {mark.radius for mark in said if mark.text == "press" and mark.anchor == "end" and not mark.bold}
        share[drawing.width] = min(sizes) / max(drawing.width, 960)
    narrow, large = (share[width] for width in sorted(share))
    assert max(share) > 2000
    assert large == pytest.approx(narrow)
