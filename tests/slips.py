"""The slips that `python dev.py mutants` puts into the source one at a time, each with the tests that should notice it.

Quickest tests first: the first that fails ends the trial.
"""

from __future__ import annotations

from typing import NamedTuple

C = "engine/native/c/"
TABLES = (
    "tests/engine/test_corner_tables.py", "tests/rules/test_traits.py", "tests/engine/test_piston_tables.py",
    "tests/engine/test_item_tables.py", "tests/engine/test_signal_tables.py", "tests/rules/test_geometry.py",
    "tests/engine/test_settling.py", "tests/plan/test_plan_validate.py",
)  # fmt: skip
NUMBERS = (
    "tests/measurement/test_small_slips.py", "tests/measurement/test_pulses.py",
    "tests/measurement/test_second_press.py", "tests/measurement/test_measuring.py",
)  # fmt: skip
DESIGN = ("tests/design/test_unbeaten.py", "tests/design/test_families.py")
DIAGNOSIS = ("tests/diagnosis/test_repair_trials.py", "tests/diagnosis/test_mistake_table.py")

EXPECTED = ("tests/verify/test_expectations.py",)
ORDERS = ("tests/verify/test_orders.py",)
NEIGHBOURS = ("tests/verify/test_neighbours.py",)
RULE_SETS = ("tests/verify/test_rulesets.py",)
PROOFS = ("tests/verify/test_proof.py", "tests/verify/test_product.py")
STATES = ("tests/verify/test_search.py", "tests/verify/test_proof.py")
TRIALS = ("tests/design/test_trials.py",)
ROUTES = ("tests/design/test_routing.py", "tests/design/test_second_press_guard.py")
CHARTS = ("tests/charts/test_shifting.py", "tests/charts/test_checking.py", "tests/charts/test_every_sentence.py")

SILENCE = ("tests/diagnosis/test_silence.py",)
ABSENCE = ("tests/measurement/test_absence.py",)
SAID = ("tests/cli/test_commands.py",)


class Mutant(NamedTuple):
    """One slip: in the file under src/tickwright, `old` (there once) becomes `new`; `why` says what it does."""

    file: str
    old: str
    new: str
    why: str
    tests: tuple[str, ...] = TABLES


MUTANTS = (
    # --- rules and kinds ---
    Mutant("rules/power.py", 'return side == "down"', 'return side in ("down", "up")', "a plate powers the cell above"),
    Mutant(
        "rules/power.py", 'return side == "up"', 'return side in ("up", "east")', "a torch powers a block beside it"
    ),
    Mutant("rules/power.py", "hastens and front.facing != OPPOSITE[facing]", "hastens", "ahead of one met head-on"),
    Mutant(
        "rules/power.py",
        "hastens and front.facing != OPPOSITE[facing]",
        "hastens and front.facing == facing",
        "not ahead of what lies across",
    ),
    Mutant("rules/power.py", "return part.facing != side", "return True", "a torch gives to what it is fixed to"),
    Mutant("rules/power.py", "if PARTS[part.kind].locks)", "if True)", "a change-sensor locks"),
    Mutant(
        "rules/power.py", "        return beyond, False", "        return beyond, True", "what lies beyond replaces 15"
    ),
    Mutant("rules/power.py", 'heard = side == "up" or OPPOSITE', "heard = OPPOSITE", "a lamp under a wire is dark"),
    Mutant(
        "rules/power.py",
        "    return direct | strong_sources(layout, there) | weak_sources(layout, there)",
        "    return direct | strong_sources(layout, there)",
        "weak power is not heard",
    ),
    Mutant(
        "rules/power.py",
        "        found |= strong_sources(layout, there)\n",
        "        found |= strong_sources(layout, there) | weak_sources(layout, there)\n",
        "a wire hears weak power",
    ),
    Mutant("rules/power.py", 'if side != "down":', "if True:", "a piston hears itself from above"),
    Mutant(
        "rules/power.py",
        "for side in DIRECTIONS if side != part.facing)",
        "for side in DIRECTIONS)",
        "a piston hears through its face",
    ),
    Mutant(
        "rules/layout.py",
        '.posture == "rest" and part.facing != side',
        '.posture == "rest"',
        "a piston carries on its face",
        ("tests/rules/test_traits.py",),
    ),
    Mutant(
        "rules/layout.py",
        'self.stands[cell].posture == "rest" and part.facing',
        "part.facing",
        "an extended piston carries",
        ("tests/rules/test_traits.py",),
    ),
    Mutant(
        "rules/wire.py",
        '    roofed = layout.conducts(beside(wire, "up"))\n    for side in HORIZONTAL:\n        there',
        "    roofed = False\n    for side in HORIZONTAL:\n        there",
        "a roof cuts no inflow",
    ),
    Mutant(
        "rules/wire.py",
        "        if carried_by_conductor and layout",
        "        if layout",
        "level comes down an insulator",
    ),
    Mutant("rules/wire.py", '(draws == "axis" and part.facing == side)', "False", "a wire joins no repeater's back"),
    Mutant("rules/wire.py", '    if climbs and layout.carries(there, "up"):', "    if climbs:", "joins what floats"),
    Mutant(
        "rules/wire.py",
        "        if not roofed and layout.is_wire(above) and layout.conducts(there):",
        "        if not roofed and layout.is_wire(above):",
        "level comes down past an insulator",
    ),
    Mutant("rules/ruleset.py", "1 + 14 * items //", "14 * items //", "an almost empty crate reads 0"),
    Mutant("kinds/table.py", "        lands_off=True,\n", "", "a pushed sensor keeps its level"),
    Mutant(
        "kinds/table.py",
        '        at_flank="always",\n        draws_join="always",\n        starts_on',
        '        draws_join="always",\n        starts_on',
        "a flank hears no power-block",
    ),
    # --- the reference engine ---
    Mutant(
        "engine/reference/pistons.py",
        "    return stand.part.kind not in PISTONS or beside(support or cell, str(stand.part.facing)) != cell",
        "    return True",
        "what stands on a piston's face is carried",
    ),
    Mutant(
        "engine/reference/pistons.py",
        "len(row) == sim.rules.piston.push_limit",
        "len(row) > sim.rules.piston.push_limit",
        "thirteen cells are pushed",
    ),
    Mutant("engine/reference/pistons.py", "    move.goals.reverse()\n", "", "the farthest cell lands first"),
    Mutant(
        "engine/reference/pistons.py",
        "    break_unsupported(sim, [cell, *row])",
        "    break_unsupported(sim, row)",
        "what stands on an extending piston stays",
    ),
    Mutant(
        "engine/reference/signals.py",
        "len(offs) == count and offs[-1] - offs[0] <= window",
        "len(offs) == count and offs[-1] - offs[0] < window",
        "burn-out needs less than its window",
    ),
    Mutant("engine/reference/signals.py", "if directly or rear <", "if directly or rear <=", "15 is replaced"),
    Mutant(
        "engine/reference/signals.py",
        "    return rear if rear >= flank else 0",
        "    return rear if rear > flank else 0",
        "an equal flank wins",
    ),
    Mutant(
        "engine/reference/signals.py",
        "    if locked(sim, cell):\n        return\n    powered",
        "    powered",
        "a locked repeater acts when due",
    ),
    Mutant(
        "engine/reference/signals.py",
        "sim.rules.repeater.priority_off)",
        "sim.rules.repeater.priority_on)",
        "the end of a stretched pulse has another priority",
    ),
    Mutant(
        "engine/reference/signals.py",
        "sim.rules.repeater.priority_off)",
        "sim.rules.repeater.priority_ahead)",
        "the end of a stretched pulse has that of what lies ahead",
    ),
    Mutant(
        "engine/reference/items.py",
        'behaviour(goal) == "hopper" and sim.count[goal] == 0',
        'behaviour(goal) == "hopper"',
        "a full hopper waits anew",
    ),
    Mutant(
        "engine/reference/items.py",
        "matter.ready[cell] = sim.now + sim.rules.hopper.cooldown",
        "matter.ready[cell] = sim.now + sim.rules.hopper.cooldown + 1",
        "a hopper rests too long",
    ),
    Mutant(
        "engine/reference/simulation.py", "(before > 0) != (level > 0)", "before != level", "a sensor sees every level"
    ),
    Mutant(
        "engine/reference/simulation.py",
        "(self.rules.wire.top_level - 1) // self.rules.wire.loss",
        "(self.rules.wire.top_level - 2) // self.rules.wire.loss",
        "the last wire in reach is forgotten",
    ),
    # --- the native engine ---
    Mutant(
        C + "geometry.c",
        "        return d == TW_DOWN;",
        "        return d == TW_DOWN || d == TW_UP;",
        "native: a plate powers the cell above",
    ),
    Mutant(
        C + "geometry.c", "        return d == TW_UP;", "        return d == TW_UP || d == 2;", "native: a torch beside"
    ),
    Mutant(
        C + "geometry.c",
        "        return w->links[n].facing != d;",
        "        return true;",
        "native: a torch gives down",
    ),
    Mutant(
        C + "geometry.c",
        "w->place[s].posture == TW_AT_REST && w->links[s].facing != toward",
        "w->place[s].posture == TW_AT_REST",
        "native: a piston carries on its face",
    ),
    Mutant(C + "geometry.c", "(role == TW_SENSOR && faces)", "false", "native: a flank hears no sensor"),
    Mutant(
        C + "geometry.c",
        "        return w->links[n].facing >> 1 == d >> 1;",
        "        return true;",
        "native: a wire joins a repeater's flank",
    ),
    Mutant(
        C + "pistons.c",
        "    if (w->links[s].role == TW_SENSOR)\n        w->live[s].level = 0;\n",
        "",
        "native: a pushed sensor keeps its level",
    ),
    Mutant(C + "pistons.c", "n < w->rules.push_limit", "n <= w->rules.push_limit", "native: thirteen cells"),
    Mutant(C + "pistons.c", "    tw_break_around(w, c);\n", "", "native: what stands on an extending piston stays"),
    Mutant(
        C + "signals.c",
        "w->now - w->offs[t->at + t->head] <= w->rules",
        "w->now - w->offs[t->at + t->head] < w->rules",
        "native: burn-out needs less than its window",
    ),
    Mutant(
        C + "signals.c",
        "    if (is_locked(w, s))\n        return;\n    bool input",
        "    bool input",
        "native: a locked repeater acts when due",
    ),
    Mutant(
        C + "signals.c",
        "timing >> TW_TIMING, w->ranks.repeater_off)",
        "timing >> TW_TIMING, w->ranks.repeater_on)",
        "native: the end of a stretched pulse",
    ),
    Mutant(
        C + "signals.c",
        "timing >> TW_TIMING, w->ranks.repeater_off)",
        "timing >> TW_TIMING, w->ranks.repeater_ahead)",
        "native: the end of a stretched pulse ahead",
    ),
    Mutant(
        C + "geometry.c",
        "            if (d != TW_DOWN)\n                hear(w, tw_beside(c, TW_UP), d, false);",
        "            hear(w, tw_beside(c, TW_UP), d, false);",
        "native: a piston hears itself from above",
    ),
    Mutant(
        C + "signals.c",
        "    tw_changed(w, s, (level > 0) != (before > 0));",
        "    tw_changed(w, s, true);",
        "native: a sensor sees every level",
    ),
    # --- measuring ---
    Mutant(
        "measurement/measuring.py",
        "found[-1].duration - found[0].start\n",
        "found[-1].duration - found[0].start + (len(found) == 3)\n",
        "the hold of three pulses is one too long",
        NUMBERS,
    ),
    Mutant(
        "measurement/measuring.py",
        '"one-shot" if len(found) == 1',
        '"one-shot" if len(found) <= 2',
        "two are one",
        NUMBERS,
    ),
    Mutant(
        "measurement/second_press.py",
        "_end(after) <= _end(before)",
        "_end(after) < _end(before)",
        "a second press that ends equally late restarts",
        NUMBERS,
    ),
    Mutant(
        "measurement/second_press.py", "after[0].start != before[0].start or ", "", "a later answer extends", NUMBERS
    ),
    Mutant(
        "measurement/second_press.py",
        '"extends" if len(after) == 1',
        '"extends" if len(after) <= 2',
        "two extend",
        NUMBERS,
    ),
    Mutant(
        "measurement/pulses.py",
        "on = value >= threshold",
        "on = value > threshold",
        "the threshold itself is off",
        NUMBERS,
    ),
    Mutant(
        "measurement/pulses.py",
        "following.start - pulse.start - pulse.duration",
        "following.start - pulse.start",
        "a separation is a period",
        NUMBERS,
    ),
    Mutant(
        "measurement/pulses.py", "    off = False  #", "    off = True  #", "what is on at rest is a pulse", NUMBERS
    ),
    # --- verifying ---
    Mutant(
        "verify/expectations.py",
        "abs(measured - wanted) <= wish.within_steps",
        "abs(measured - wanted) < max(wish.within_steps, 1)",
        "what equals the limit fails",
        EXPECTED,
    ),
    Mutant(
        "verify/expectations.py",
        "seen.rest_steps <= wish.settles_within_steps",
        "seen.rest_steps < wish.settles_within_steps",
        "what rests at the limit fails",
        EXPECTED,
    ),
    Mutant(
        "verify/expectations.py", "lowest = min(levels", "lowest = max(levels", "the highest level is held", EXPECTED
    ),
    Mutant(
        "verify/orders.py",
        "if not _alike(answers[output], now[output])",
        "if answers[output].kind != now[output].kind",
        "only kinds are compared in other orders",
        ORDERS,
    ),
    Mutant("verify/neighbours.py", "REACH = 4", "REACH = 1", "copies two cells apart are not looked at", NEIGHBOURS),
    Mutant("verify/neighbours.py", "if touching or wander:", "if touching:", "items do not wander", NEIGHBOURS),
    Mutant(
        "verify/rulesets.py",
        "return min(pair_a[0], pair_b[0])",
        "return max(pair_a[0], pair_b[0])",
        "two rule sets part a change too late",
        RULE_SETS,
    ),
    Mutant("verify/claims.py", "since >= self.at_most and away", "since > self.at_most and away", "late", PROOFS),
    Mutant(
        "verify/claims.py",
        "since = 0 if pressed else None",
        "since = 0 if pressed and since is None else None",
        "only the first press counts",
        PROOFS,
    ),
    Mutant(
        "verify/proving.py",
        "None if later.rest_steps is None else later.rest_steps + 1",
        "later.rest_steps",
        "every state rests at once",
        PROOFS,
    ),
    Mutant("verify/proving.py", "count + 1 if comes and not on", "count if comes and not on", "no pulses", PROOFS[:1]),
    Mutant("verify/search.py", "(weight + move.weight, steps + 1)", "(weight, steps + 1)", "presses are free", STATES),
    Mutant(
        "verify/comparing.py",
        '"margin": int.__neg__',
        '"margin": int.__pos__',
        "margins are sorted the least first",
        ("tests/verify/test_comparing.py",),
    ),
    # --- designs tried and laid ---
    Mutant("design/trials.py", "if untouched.pulses[n]:", "if False:", "what comes on before the press", TRIALS),
    Mutant("design/trials.py", "pressed.pulses[n] == 1 and ", "", "two pulses are a hold", TRIALS),
    Mutant("design/trials.py", "untouched.at_rest[n] and ended", "ended", "not at rest before it", TRIALS),
    Mutant("design/ground.py", "RENEWED_AT = 3", "RENEWED_AT = -99", "long wires are not renewed", ROUTES),
    Mutant(
        "design/judging.py",
        "least > wanted",
        "least >= wanted",
        "the very pitch is too wide",
        ("tests/design/test_choosing.py",),
    ),
    Mutant(
        "design/tuning/changes.py",
        "if other.kind != part.kind and default_act",
        "if default_act",
        "the same trigger is another",
        ("tests/design/test_tuning.py::test_another_trigger_is_never_of_the_same_kind",),
    ),
    # --- charts ---
    Mutant(
        "charts/matching.py", "<= wanted.begin_within", "< max(wanted.begin_within, 1)", "within is exclusive", CHARTS
    ),
    Mutant("charts/matching.py", "<= wanted.end_within", "<= wanted.begin_within", "ends may be off as begins", CHARTS),
    # --- recovery and phase ---
    Mutant(
        "measurement/recovery.py",
        "return max(least - off, 0)",
        "return max(least - delay, 0)",
        "recovery counts from the output's coming on",
        ("tests/measurement/test_measuring.py",),
    ),
    Mutant(
        "measurement/phase.py",
        "sim.now - kept_at\n        seen",
        "sim.now - kept_at + 1\n        seen",
        "a period is one step too long",
        ("tests/measurement/test_phase.py",),
    ),
    # --- design and diagnosis ---
    Mutant(
        "design/choosing.py",
        "(scores(other) != mine or place < number)",
        "scores(other) != mine",
        "ties are kept",
        DESIGN,
    ),
    Mutant(
        "design/choosing.py",
        "all(theirs <= ours for theirs, ours in zip(scores(other)",
        "any(theirs < ours for theirs, ours in zip(scores(other)",
        "better in one thing beats",
        DESIGN,
    ),
    Mutant(
        "design/choosing.py",
        "return (abs(design.error_steps), *sizes, recovery)",
        "return (design.error_steps, *sizes, recovery)",
        "too short is best",
        DESIGN,
    ),
    Mutant(
        "diagnosis/diagnosing.py",
        "return wanted <= _lit(evidence) and not self._harms(edited, finding)",
        "return True",
        "a repair may darken an output",
        DIAGNOSIS,
    ),
    Mutant("diagnosis/diagnosing.py", " - (name == finding.code)", "", "a repair may leave its finding", DIAGNOSIS),
    Mutant(
        "diagnosis/mistakes.py",
        "if value != right and value in choices",
        "if value in choices",
        "right is wrong",
        DIAGNOSIS,
    ),
    Mutant(
        "kinds/table.py",
        '        confused_with=("short-button",),\n',
        "",
        "a short button is never taken for a long one",
        DIAGNOSIS,
    ),
    # --- what is said ---
    Mutant(
        "diagnosis/diagnosing.py",
        "        try:\n            edited = apply_edits(self.before.plan, repair.edits)",
        "        return True\n        try:\n            edited = apply_edits(self.before.plan, repair.edits)",
        "every repair counts as tried",
        DIAGNOSIS,
    ),
    Mutant(
        "diagnosis/diagnosing.py",
        " and not self._harms(edited, finding)",
        "",
        "a repair may change other outputs",
        DIAGNOSIS,
    ),
    Mutant(
        "diagnosis/diagnosing.py",
        "if one not in echoes or (one.code",
        "if True or (one.code",
        "one fault is told twice",
        SILENCE,
    ),
    Mutant(
        "diagnosis/diagnosing.py",
        "if one not in echoes or (one.code, one.cells) in left]",
        "if one not in echoes]",
        "two faults are told once",
        SILENCE,
    ),
    Mutant("diagnosis/finders.py", 'never_powered: ("never-powered",),', "", "never powered: not told", SILENCE),
    Mutant("diagnosis/finders.py", 'ring_not_closed: ("ring-not-closed",),', "", "open rings: not told", SILENCE),
    Mutant("diagnosis/finders.py", 'heard_by_nobody: ("heard-by-nobody",),', "", "unheard: not told", SILENCE),
    Mutant(
        "diagnosis/silence.py",
        "cells = (gap, *(other for other in ring.cells if other != gap))",
        "cells = ring.cells",
        "the gap is not named first",
        SILENCE,
    ),
    Mutant(
        "diagnosis/finders.py",
        "{\n        output_unreached:",
        '{\n        wires_joined: ("wires-joined",),\n        output_unreached:',
        "touching wires come before a gap",
        SILENCE,
    ),
    Mutant(
        "diagnosis/causes.py",
        "(len(self.mistakes), stray, round",
        "(len(self.mistakes), False, round",
        "a stray power-block is as likely as others",
        ("tests/diagnosis/test_causes.py::test_what_is_likely_comes_before_a_stray_power_block",),
    ),
    Mutant(
        "design/relaxing.py",
        "met = search.meeting(wish) if needed else ()",
        "met = designs if needed else ()",
        "advice is not run",
        ("tests/design/test_relaxing.py::test_no_advice_is_given_that_a_run_does_not_bear_out",),
    ),
    Mutant(
        "measurement/measuring.py",
        "if less != 0 and (less != 1 or self.constant):",
        "if False:",
        "any hold is as good for the minimum trigger",
        ("tests/measurement/test_measuring.py",),
    ),
    Mutant(
        "measurement/measuring.py",
        "top = SCANNED_STEPS if still is None else still + 2",
        "top = min(20, SCANNED_STEPS if still is None else still + 2)",
        "lengths above 20 are not tried",
        ABSENCE,
    ),
    Mutant(
        "measurement/observe.py",
        'if self.rest(output, threshold) == "off":',
        "if True:",
        "what is on at rest is not measured by its absence",
        ABSENCE,
    ),
    Mutant("verify/proof.py", "if settled and level}", "if False}", "what is on at rest must go off", ABSENCE),
    Mutant(
        "publish/film/clock.py",
        "if not pressed or not run.rested or not",
        "if True or not",
        "captions tell no absence",
        ("tests/publish/test_film.py",),
    ),
    Mutant(
        "verify/expectations.py",
        'limit = f"at most {',
        'limit = f"{',
        '"at most" is dropped',
        SAID,
    ),
    Mutant("cli/check.py", "if without and not checked:", "if without:", "a plan without claims spoils all", SAID),
    Mutant("plan/bill.py", "items = sum(part.items for part in plan.cells.values())", "items = 0", "no items", SAID),
    Mutant(
        "publish/chart.py",
        "    if recording.rested:\n        return recording.trace.steps\n",
        "",
        "a chart ends before the run",
        ("tests/publish/test_chart.py",),
    ),
    Mutant("durations.py", 'for unit in ("h", "min"))', "for unit in ())", "1200 s", ("tests/plan/test_durations.py",)),
)  # fmt: skip
