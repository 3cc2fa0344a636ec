# SPDX-License-Identifier: MIT
"""What the planner plans with on one bench: every test and repair with its minutes, and the cost of bench states.

The minutes are those of the knowledge base, unless the bench says otherwise.
"""

from __future__ import annotations

import numpy as np

from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import Measurement
from backporch.engine.planning.problem import CostModel, Problem, Repair, Test
from backporch.engine.session.workbench import Workbench

__all__ = ["access_around", "by_substitution", "hand_minutes", "planning_problem", "tier_of"]

_ON, _OFF, _PROOF = "set-warm", "plug-out", "change-proved"
_BY_HAND = ("chassis-open", "set-off-discharged", "meter-out", "iron-hot")
_TIERS = {"look": 0, "listen": 0, "control": 1, "exchange": 3, "meter": 4, "scope": 5, "part-test": 6, "repair": 6}
_RAIL_SECTIONS = ("power", "heater")
_LEAST_MINUTES = 0.5


def tier_of(measurement: Measurement, section: str) -> int:
    """Return the cost class: looks 0, controls 1, rails 2, exchanges 3, meter 4, oscilloscope 5, soldering 6.

    A part or tube that is tested without soldering stands with the meter or the exchanges.
    """
    if measurement.kind == "meter" and section in _RAIL_SECTIONS:
        return 2
    if measurement.kind == "part-test" and "soldering-iron" not in measurement.instruments:
        return _TIERS["exchange" if measurement.observe == "tube-test" else "meter"]
    return _TIERS[measurement.kind]


def planning_problem(workbench: Workbench) -> Problem:
    """Return the planner's tables over all offers and parts of the chassis."""
    hypotheses = workbench.faults.hypotheses
    return Problem(_tests(workbench), _repairs(workbench), _costs(workbench), [h.stage for h in hypotheses])


def access_around(library: Library, stages: set[str]) -> frozenset[str]:
    """Return the bench states behind which the tubes of some stages stand, such as the open cage."""
    return frozenset(name for name, state in library.bench_states.items() if stages & set(state.around))


def by_substitution(workbench: Workbench, part: str) -> bool:
    """Tell whether a part is proved by a good one in its place alone, since no meter is at hand to test it."""
    chassis = workbench.chassis
    kind = chassis.tubes[part].kind if part in chassis.tubes else chassis.parts[part].kind
    return workbench.library.part_kinds[kind].test_step == "cold" and "meter" not in workbench.bench.instruments


def hand_minutes(workbench: Workbench, part: str) -> float:
    """Return the minutes of testing a part by itself; without a meter it takes as long as changing it [min]."""
    chassis, bench = workbench.chassis, workbench.bench
    name = chassis.tubes[part].kind if part in chassis.tubes else chassis.parts[part].kind
    kind = workbench.library.part_kinds[name]
    change = bench.minutes.get(part, bench.replace_minutes.get(name, kind.replace_minutes))
    usual = max(kind.test_minutes, change) if by_substitution(workbench, part) else kind.test_minutes
    return max(bench.minutes.get(f"part-test@{part}", usual), _LEAST_MINUTES)


def _tests(workbench: Workbench) -> list[Test]:
    library, faults, bench = workbench.library, workbench.faults, workbench.bench
    tests = []
    for key, offer in sorted(faults.offers.items()):
        measurement = offer.measurement
        section = library.stages[measurement.stage].section if measurement.stage else ""
        _, table = faults.outcome_table(key)
        tests.append(
            Test(
                key=key,
                tier=tier_of(measurement, section),
                minutes=bench.minutes.get(key, bench.minutes.get(offer.name, measurement.minutes)),
                access=frozenset(measurement.access),
                power=measurement.power,
                table=table,
                cause=measurement.cause_of_error,
                then_on=measurement.kind == "exchange",
            )
        )
    return tests


def _costs(workbench: Workbench) -> CostModel:
    states = workbench.library.bench_states
    minutes = {name: workbench.bench.minutes.get(name, state.minutes) for name, state in states.items()}
    lasting = {name: state for name, state in states.items() if name not in (_ON, _OFF, _PROOF)}
    return CostModel(
        access_minutes={name: minutes[name] for name in lasting},
        ends={name: frozenset(s for s, state in lasting.items() if name in state.lost_by) for name in lasting},
        lost_with_power_on=frozenset(name for name, state in lasting.items() if _ON in state.lost_by),
        reached_off=frozenset(name for name, state in lasting.items() if state.power == "off"),
        to_on_minutes=minutes[_ON],
        to_off_minutes=minutes[_OFF],
        proof_minutes=minutes[_PROOF],
        search_access=frozenset(_BY_HAND),
    )


def _repairs(workbench: Workbench) -> list[Repair]:
    chassis, library, bench = workbench.chassis, workbench.library, workbench.bench
    owners = np.array([h.owner for h in workbench.faults.hypotheses])
    kind_of = {name: part.kind for name, part in chassis.parts.items()}
    kind_of |= {name: tube.kind for name, tube in chassis.tubes.items()}
    repairs = []
    for name in sorted(kind_of):
        kind = library.part_kinds[kind_of[name]]
        cures = owners == name
        if cures.any():
            access = frozenset(kind.access)
            if name in chassis.tubes:
                access |= access_around(library, {s.stage for s in chassis.tubes[name].sections.values()})
            minutes = bench.minutes.get(name, bench.replace_minutes.get(kind_of[name], kind.replace_minutes))
            last = kind.replaceable in ("rewind", "none")
            test = hand_minutes(workbench, name)
            repairs.append(Repair(name, max(minutes, _LEAST_MINUTES), cures, test, last, access))
    return repairs
