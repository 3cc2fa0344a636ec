"""The check of a chassis file: shipped receivers pass, slips of the pen are found, unwise tubes are refused."""

from __future__ import annotations

import random

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.model import Chassis, Part, unit_of_kind
from backporch.engine.chassis.plausible import oddities
from backporch.engine.chassis.stand_in import stand_in_refusals
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.units import parse, show

MUTANTS = 50
CAUGHT = 40
SEED = 20


@pytest.fixture(scope="module")
def library() -> Library:
    """Give the knowledge base that is shipped."""
    return shipped()


def valued(chassis: Chassis, *units: str) -> list[str]:
    """Return the parts whose value is in one of the units."""
    return sorted(n for n, p in chassis.parts.items() if p.value and unit_of_kind(p.kind) in units)


def scaled(chassis: Chassis, name: str, factor: float) -> Chassis:
    """Return the chassis with one value multiplied."""
    part = chassis.parts[name]
    unit = unit_of_kind(part.kind)
    number = parse(part.value or "", unit) * factor
    value = f"{number * 1e12:.4g} pF" if unit == "F" else show(number, unit, 4)
    return with_parts(chassis, {name: part.model_copy(update={"value": value})})


def with_parts(chassis: Chassis, changed: dict[str, Part]) -> Chassis:
    """Return the chassis with other parts."""
    return chassis.model_copy(update={"parts": {**chassis.parts, **changed}})


def mutated(chassis: Chassis, library: Library, chance: random.Random) -> tuple[str, Chassis]:
    """Return a receiver with one slip of the pen, and what the slip was."""
    slip = chance.choice(("decimal point", "uF for nF", "swapped resistors", "wrong tube"))
    if slip == "decimal point":
        name = chance.choice(valued(chassis, "ohm", "F", "H"))
        return f"{slip} {name}", scaled(chassis, name, chance.choice((0.1, 10.0)))
    if slip == "uF for nF":
        name = chance.choice(valued(chassis, "F"))
        return f"{slip} {name}", scaled(chassis, name, 1e3)
    if slip == "swapped resistors":
        one, other = chance.sample(valued(chassis, "ohm"), 2)
        first, second = chassis.parts[one], chassis.parts[other]
        changed = {
            one: first.model_copy(update={"value": second.value}),
            other: second.model_copy(update={"value": first.value}),
        }
        return f"{slip} {one} {other}", with_parts(chassis, changed)
    name = chance.choice(sorted(n for n, t in chassis.tubes.items() if t.kind != "picture tube"))
    new = chance.choice(sorted(library.tubes))
    tube = chassis.tubes[name].model_copy(update={"type": new})
    return f"{slip} {name} {new}", chassis.model_copy(update={"tubes": {**chassis.tubes, name: tube}})


class TestOddities:
    """What is implausible is found, what is plausible is left alone."""

    @pytest.mark.parametrize("name", ["plover-17", "dunlin-24", "curlew-19", "teal-14"])
    def test_a_shipped_receiver_has_none(self, library: Library, name: str) -> None:
        """Each receiver that is shipped passes its own check."""
        assert oddities(load_chassis(name, library), library) == ()

    def test_most_slips_of_the_pen_are_found(self, library: Library) -> None:
        """Of fifty receivers with one slip each at least forty are caught, without knowing what they are like."""
        chance = random.Random(SEED)
        missed = []
        shelf = [load_chassis(name, library) for name in library.chassis_names()]
        for n in range(MUTANTS):
            chassis = shelf[n % len(shelf)]
            slip, mutant = mutated(chassis, library, chance)
            if not oddities(mutant, library):
                missed.append(f"{chassis.name}: {slip}")

        assert len(missed) <= MUTANTS - CAUGHT, missed

    def test_the_slip_is_named(self, library: Library) -> None:
        """A value in the wrong unit is said to be a thousand times what is usual."""
        found = oddities(load_chassis("plover-17", library).with_changes({"C36": "100 uF"}), library)

        assert any("thousand times" in o.look for o in found if o.where == "parts.C36.value")

    def test_a_tube_of_another_string_is_found(self, library: Library) -> None:
        """A 600 mA tube in a 300 mA string is said with both currents."""
        chassis = load_chassis("curlew-19", library)
        tubes = {**chassis.tubes, "V3": chassis.tubes["V3"].model_copy(update={"type": "3CB6"})}
        found = oddities(chassis.model_copy(update={"tubes": tubes}), library)

        assert any("600 mA" in o.found and "300 mA" in o.expected for o in found if o.where == "tubes.V3.type")


class TestStandIn:
    """A tube may stand in for another, or is refused with the reason."""

    @pytest.mark.parametrize(
        ("old", "new", "series", "word"),
        [
            ("12AU7", "12AX7", False, "amplification"),
            ("PCL82", "PCL85", True, "other pins"),
            ("6CB6", "3CB6", False, "heater winding"),
            ("EF80", "3CB6", True, "another base"),
            ("6BQ6GTB", "6BQ6GT", False, "lower ratings"),
            ("PL36", "EL36", True, "series string"),
            ("6AU6", "6CB6", False, "other pins"),
            ("6SN7GTB", "6SL7GT", False, "amplifies very differently"),
            ("6CB6", "6XYZ", False, "not known here"),
        ],
    )
    def test_refusal(self, library: Library, old: str, new: str, series: bool, word: str) -> None:
        """The refusal gives its reason."""
        assert word in " ".join(stand_in_refusals(old, new, library, series_string=series))

    @pytest.mark.parametrize(
        ("old", "new", "series"),
        [("6CG7", "6FQ7", False), ("6BQ6GT", "6BQ6GTB", False), ("ECC82", "12AU7", True), ("EF80", "EF80", True)],
    )
    def test_no_objection(self, library: Library, old: str, new: str, series: bool) -> None:
        """Another name of the same tube, and a later one of higher rating, may stand in."""
        assert stand_in_refusals(old, new, library, series_string=series) == ()

    def test_every_named_pair_is_known(self, library: Library) -> None:
        """Each type in the list of refusals has an entry of its own."""
        assert all(e.tube in library.tubes and e.by in library.tubes for e in library.tube_refusals.values())
