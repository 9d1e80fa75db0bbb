"""All finders by how much they take: a look at the plan as laid, one run of each press, or many runs."""

from __future__ import annotations

from tickwright.diagnose.acting import lamp_flashes, repeater_locked_for_good, short_pulse_lost, torch_burns_out
from tickwright.diagnose.fading import level_dies_in_loop, loop_never_fades, trigger_too_short
from tickwright.diagnose.lines import climbing_wire, output_too_far, output_unreached, wires_joined
from tickwright.diagnose.matter import containers, moved_matter
from tickwright.diagnose.ties import neighbour_too_near, order_sensitive

FINDERS = {
    "laid": (output_unreached, output_too_far, level_dies_in_loop, wires_joined, climbing_wire),
    "pressed": (
        trigger_too_short,
        loop_never_fades,
        short_pulse_lost,
        torch_burns_out,
        repeater_locked_for_good,
        containers,
        moved_matter,
        lamp_flashes,
        neighbour_too_near,
    ),
    "all": (order_sensitive,),
}
