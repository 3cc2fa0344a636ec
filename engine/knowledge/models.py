# SPDX-License-Identifier: MIT
"""The shapes of the knowledge base: stages, symptoms, measurements, part kinds, strengths, sources.

Every file of kb/ is checked against one of these models when it is loaded.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from backporch.engine.knowledge.validation import Amperes, Frozen, Minutes, Ratio, Volts

__all__ = [
    "BenchState",
    "Caution",
    "Clause",
    "ColdAnswer",
    "ColdCheck",
    "Contradiction",
    "Drawn",
    "Effect",
    "Film",
    "GlossaryEntry",
    "Instrument",
    "Measurement",
    "Mode",
    "NeverAdvised",
    "OpeningQuestion",
    "PartKind",
    "PictureWord",
    "PointRating",
    "Reading",
    "RecappingRule",
    "SetCondition",
    "Shot",
    "Source",
    "Stage",
    "Symptom",
    "TubeRefusal",
    "TubeType",
    "UsualSuspect",
    "UsualValue",
]

Section = Literal[
    "outside",
    "power",
    "heater",
    "signal",
    "sound",
    "sync",
    "vertical",
    "horizontal",
    "high-voltage",
    "picture-tube",
]
Family = Literal["raster", "sync", "video", "high-voltage", "heater", "sound", "bench"]
Kind = Literal["look", "listen", "control", "meter", "exchange", "scope", "part-test", "repair"]
Power = Literal["on", "off", "either"]
StandardName = Literal["525/60", "625/50", "405/50", "819/50"]


class Source(Frozen):
    """A published document that figures were taken from."""

    title: str
    author: str | None = None
    year: str | int | None = None
    publisher: str | None = None
    where: str | None = None
    note: str | None = None


class Stage(Frozen):
    """A stage of a receiver: what the diagnosis narrows down to."""

    title: str
    section: Section
    summary: str = Field(description="What the stage does, in one sentence a newcomer understands.")
    loop: str | None = Field(None, description="The feedback loop that the stage is part of, if any.")


class Symptom(Frozen):
    """Something that is seen, heard or smelt before any test."""

    title: str
    family: Family
    seen: str = Field(description="What it looks, sounds or smells like, in one sentence.")
    everyday: tuple[str, ...] = Field((), description="Everyday words by which people search for it.")
    unlike: dict[str, str] = Field(
        default_factory=dict, description="Symptoms it is taken for, each with the difference."
    )
    standards: tuple[StandardName, ...] = ()
    caution: str | None = Field(None, description="Key of a caution to show as soon as it is chosen.")


class Contradiction(Frozen):
    """Signs of which one of each side cannot both be true at one time."""

    one: tuple[str, ...]
    other: tuple[str, ...]
    unless: tuple[str, ...] = Field((), description="Symptoms that let both be true, at different times.")
    says: str


class UsualSuspect(Frozen):
    """What the trade thinks of first on one sign alone: a stage or a group of stages, and why."""

    sign: str = Field(description="A symptom, or a condition that rules derive.")
    stage: str | None = None
    group: str | None = None
    direction: Literal["for", "against"]
    strength: str = Field(description="A key of kb/strengths.")
    claim: str = Field(description="What it says, in one sentence; {stage} stands for the stage.")
    because: str
    source: str


class Reading(Frozen):
    """What a numeric measurement reads: a quantity of a named point of the virtual chassis."""

    point: str
    quantity: Literal["dc", "pp", "rms", "ohm", "amp", "hz"]
    unit: Literal["V", "A", "ohm", "Hz"]


class Shot(Frozen):
    """One drawing of the screen: what was done or when, and what differs from a healthy picture."""

    caption: str = ""
    look: dict[str, float] = Field(default_factory=dict)
    at_s: float = Field(0.0, ge=0, le=60)
    fields: int = Field(2, ge=1, le=12)
    close: bool = Field(False, description="Whether the eye is close to the middle of the glass.")


class Film(Frozen):
    """A film of the screen from one look, by default that of the first shot, to another and back."""

    start: dict[str, float] | None = Field(None, alias="from")
    look: dict[str, float] = Field(default_factory=dict)


class Drawn(Frozen):
    """How a symptom is drawn."""

    shots: tuple[Shot, ...] = Field(min_length=1, max_length=3)
    film: Film | None = None


class Measurement(Frozen):
    """A look, a control, a reading or another test, with all that a person must know to do it."""

    title: str
    kind: Kind
    stage: str | None = Field(None, description="The stage that it tests first of all.")
    minutes: Minutes
    power: Power
    access: tuple[str, ...] = Field((), description="Bench states it needs; each is paid for once.")
    instruments: tuple[str, ...] = ()
    hazards: tuple[str, ...] = Field((), description="Dangers near it: keys of the hazards of the bench.")
    do: str = Field(description="What to do, step by step.")
    healthy: str = Field(description="What a healthy set shows.")
    pitfall: str = Field(description='What goes wrong easily, or "none".')
    reading: Reading | None = None
    observe: str | None = Field(None, description="Name of the observation of the virtual chassis.")
    touches: str | None = Field(
        None, description="Test point that is touched where nothing is read in figures, as with a neon tester."
    )
    outcomes: dict[str, str] = Field(default_factory=dict, description="Named outcomes, each in words.")
    port: Literal["in", "out", "supply"] | None = Field(
        None, description="Which port of its stage it looks at, for signal tracing."
    )
    needs_any: tuple[str, ...] = Field(
        (), description="Symptoms of which at least one must have been seen for the test to have a sense."
    )
    first_for: tuple[str, ...] = Field(
        (), description="Symptoms after which it is asked before anything else, as long as it can tell something."
    )
    traits: dict[str, tuple[str, ...]] = Field(
        default_factory=dict, description="Chassis traits it is limited to, each with the values allowed."
    )
    reliability: Ratio = Field(0.93, ge=0.5, le=1.0, description="How often the observer gets it right.")
    sources: tuple[str, ...] = ()

    @property
    def point(self) -> str:
        """The test point that is read or touched, or ""."""
        return self.reading.point if self.reading is not None else self.touches or ""

    @property
    def cause_of_error(self) -> str:
        """What its error is shared with: one instrument or one observer at one stage; "" for nothing."""
        if self.stage is None or self.kind in ("exchange", "part-test", "repair"):
            return ""
        witness = self.kind if self.kind in ("meter", "scope") else "observer"
        return f"{witness} at {self.stage}"


class BenchState(Frozen):
    """A state of the bench that costs time to reach and then stays, such as the chassis turned over."""

    title: str
    minutes: Minutes
    power: Power = "either"
    do: str
    hazards: tuple[str, ...] = ()
    lost_by: tuple[str, ...] = Field((), description="States that end this one; set-warm is the set switched on.")
    around: tuple[str, ...] = Field((), description="Stages whose tubes stand behind it.")


class Instrument(Frozen):
    """Something that a bench may have."""

    title: str
    input_ohm: str | None = None
    ohms_per_volt: str | None = None
    max_v: str | None = None
    common: bool = Field(description="Whether a bench is taken to have it unless told otherwise.")


class Effect(Frozen):
    """What a failure mode does to one parameter of a part, as a range that severities are drawn from."""

    parameter: Literal[
        "resistance",
        "resistance_ohm",
        "capacitance",
        "inductance",
        "leakage_ohm",
        "emission",
        "gas_a",
        "heater_cathode_ohm",
        "heater",
        "turns_shorted",
        "position",
        "contact_ohm",
        "gain",
        "present",
        "onset_minutes",
    ]
    low: str | float
    high: str | float
    spread: Literal["log", "linear"] = "log"


class Mode(Frozen):
    """One way in which a kind of part fails, with how common it is in an old set."""

    title: str
    original: Ratio = Field(description="Relative frequency in a part as old as the set.")
    renewed: Ratio = Field(description="Relative frequency in a part that was replaced lately.")
    human: bool = Field(False, description="Made by somebody who worked on the set, not by age.")
    effects: tuple[Effect, ...] = ()
    handbook_share: Ratio | None = Field(None, description="Published share of this mode, if any.")
    source: str


class PartKind(Frozen):
    """A kind of part: how it fails, and what testing and replacing one costs."""

    title: str
    unit: Literal["ohm", "F", "H", "V", "A", ""] = ""
    test_minutes: Minutes
    replace_minutes: Minutes
    replaceable: Literal["easy", "hard", "rewind", "none"]
    access: tuple[str, ...] = Field(
        ("chassis-open", "set-off-discharged", "iron-hot"), description="Bench states that a change needs."
    )
    test: str = Field(description="How such a part is tested, in one or two sentences.")
    test_step: Literal["cold", "exchange", "powered"] = Field(
        "cold", description="Whether the test is made with the set off, by another tube, or with power."
    )
    modes: dict[str, Mode]


class SetCondition(Frozen):
    """What condition a set is in, and how many faults such a set has on average."""

    title: str
    expected_faults: Ratio = Field(gt=0)
    human_factor: Ratio = Field(gt=0, description="Multiplies the frequency of faults that people make.")
    cold_check: bool = Field(description="Whether the cold check comes before any power.")
    source: str


class Clause(Frozen):
    """A test on one quantity of the picture state."""

    quantity: str
    above: Ratio | None = None
    below: Ratio | None = None


class PictureWord(Frozen):
    """When a simulated set shows a symptom: any one of several lists of clauses that all hold."""

    any_of: tuple[tuple[Clause, ...], ...]


class OpeningQuestion(Frozen):
    """A question asked before any test; its answer is a circumstance that rules and gates may read."""

    ask: str
    when: Literal["before-symptoms", "after-symptoms"]
    help: str = ""
    options: dict[str, str] = Field(default_factory=dict)
    traits: dict[str, tuple[str, ...]] = Field(
        default_factory=dict, description="Chassis traits for which it is asked at all."
    )
    unless: dict[str, tuple[str, ...]] = Field(
        default_factory=dict, description="Earlier answers that make it pointless."
    )
    only: dict[str, tuple[str, ...]] = Field(
        default_factory=dict, description="Earlier answers for which alone it is asked."
    )
    unit: str = Field("", description="Unit of an amount that may be typed in place of an option.")
    families: tuple[Family, ...] = Field((), description="Families of which a symptom must have been chosen.")


class TubeType(Frozen):
    """What is the same for every tube of a registered type."""

    base: Literal["octal", "miniature-7", "noval", "duodecal", "neo-8", "magnoval", "compactron", "wired"]
    does: str = Field(description="What the tube is, such as dual triode.")
    heater_v: Volts | None = Field(None, description="Rated heater voltage, halves in series where it is tapped.")
    heater_a: Amperes | None = Field(None, description="Rated heater current, halves in series.")
    tapped: bool = Field(False, description="Whether the halves of the heater may be wired in parallel.")
    gain: str | None = Field(None, description='Amplification or mutual conductance: "mu 17", "5.9 mA/V".')
    pins: str | None = Field(None, description="What the pins are, in order, where that is known.")
    source: str


class TubeRefusal(Frozen):
    """A pair of tube types that are taken for each other and must not be."""

    tube: str
    by: str
    because: str
    source: str


class UsualValue(Frozen):
    """The range in which the value of a part with a certain role lies in receivers of the time."""

    low: str
    high: str


class GlossaryEntry(Frozen):
    """A term of the trade in plain words."""

    means: str
    also: tuple[str, ...] = Field((), description="Other words for it, British ones among them.")


class Caution(Frozen):
    """A danger in one or two short sentences, said before the step that it belongs to."""

    say: str
    short: str = Field(description="What is said when it was read before.")
    first: bool = Field(False, description="Whether it is shown before anything else is done.")
    traits: dict[str, tuple[str, ...]] = Field(
        default_factory=dict, description="Chassis traits for which it is shown; empty for every chassis."
    )
    source: str

    def applies_to(self, chassis: object) -> bool:
        """Tell whether the caution concerns a chassis."""
        return all(str(getattr(chassis, name)) in values for name, values in self.traits.items())


class RecappingRule(Frozen):
    """Which parts a line of the recapping policy speaks of: by stage, role and kind; what is left out fits all."""

    policy: Literal["on-sight", "on-suspicion", "never-blindly"]
    stages: tuple[str, ...] = ()
    roles: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    how: str


class NeverAdvised(Frozen):
    """Something that is never advised, how it is known in words, and what is advised in its place."""

    title: str
    words: str = Field(description="Regular expression that finds it in what somebody types, and in any text.")
    trip: str = Field(description="A sentence that the words must find.")
    because: str
    instead: str
    source: str


class PointRating(Frozen):
    """A point that may be measured only with a rated instrument, or not at all, and what to read instead."""

    rating: Literal["rated", "forbidden"]
    rated_v: Volts = 0.0
    substitute: str
    because: str


class ColdAnswer(Frozen):
    """One answer to a cold check; with ``stop`` nothing goes on before that is mended."""

    say: str
    stop: str | None = None
    note: str | None = None
    alarm: bool = Field(False, description="Whether it is a sign on which the set goes off at the plug.")
    least: str | None = Field(None, description="The least reading that is this answer; none for the rest.")


class ColdCheck(Frozen):
    """One check before the first power."""

    ask: str
    do: str
    options: dict[str, ColdAnswer]
    traits: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    powered: bool = False
    after_alarm: bool = Field(False, description="Whether it is asked only after a sign of danger.")
    unit: str = Field("", description="Unit of the reading that answers it; the reading picks the option.")
    reading_only: bool = Field(False, description="Whether nothing but a reading answers it.")
    answers: str | None = Field(None, description="The measurement that its reading is an answer to.")
    circumstance: str | None = Field(None, description="The circumstance of the session that it sets.")
