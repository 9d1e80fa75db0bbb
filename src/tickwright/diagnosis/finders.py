"""All finders by how much they take: a look at the plan as laid, one run of each press, or many runs."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator

from tickwright.diagnosis.acting import lamp_flashes, repeater_locked_for_good, short_pulse_lost, torch_burns_out
from tickwright.diagnosis.claims import claims_not_kept
from tickwright.diagnosis.evidence import Evidence
from tickwright.diagnosis.fading import level_dies_in_loop, loop_never_fades, trigger_too_short
from tickwright.diagnosis.lines import climbing_wire, output_too_far, output_unreached, wires_joined
from tickwright.diagnosis.matter import ENGINE_CODES, containers, moved_matter
from tickwright.diagnosis.silence import heard_by_nobody, never_powered, ring_not_closed
from tickwright.diagnosis.suspicion import Suspicion
from tickwright.diagnosis.ties import neighbour_too_near, order_sensitive
from tickwright.findings import Finding

Finder = Callable[[Evidence], Iterator[Suspicion]]

# By depth, each with the codes that it finds.
FINDERS: dict[str, dict[Finder, tuple[str, ...]]] = {
    "laid": {
        output_unreached: ("output-unreached",),
        output_too_far: ("output-too-far",),
        never_powered: ("never-powered",),
        ring_not_closed: ("ring-not-closed",),
        heard_by_nobody: ("heard-by-nobody",),
        level_dies_in_loop: ("level-dies-in-loop",),
        wires_joined: ("wires-joined",),
        climbing_wire: ("climbing-wire-feeds-comparator",),
    },
    "pressed": {
        trigger_too_short: ("trigger-too-short",),
        loop_never_fades: ("loop-never-fades",),
        short_pulse_lost: ("short-pulse-lost",),
        torch_burns_out: ("torch-burns-out",),
        repeater_locked_for_good: ("repeater-locked-for-good",),
        containers: ("container-never-fills", "container-never-drains"),
        moved_matter: ENGINE_CODES,
        lamp_flashes: ("lamp-flashes",),
        neighbour_too_near: ("neighbour-too-near",),
    },
    "all": {claims_not_kept: ("claim-not-kept",), order_sensitive: ("order-sensitive",)},
}


def finders(depth: str, first: str = "") -> list[Finder]:
    """The finders up to a depth, those that take least first; the one that finds the code `first` before all."""
    depths = list(FINDERS)
    found = {one: codes for name in depths[: depths.index(depth) + 1] for one, codes in FINDERS[name].items()}
    return sorted(found, key=lambda one: first not in found[one])


def find_codes(ev: Evidence, codes: Collection[str]) -> list[Finding]:
    """What the finders of these codes find."""
    wanted = [finder for found in FINDERS.values() for finder, own in found.items() if not set(own).isdisjoint(codes)]
    return [one.finding for finder in wanted for one in finder(ev)]
