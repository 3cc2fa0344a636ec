"""Each complaint of the trade has its sign, and at least two rules or usual suspects that speak of it."""

from __future__ import annotations

import pytest

from backporch.engine.facts import Condition, Finding, Symptom
from backporch.engine.knowledge.library import shipped
from backporch.engine.rulebook import rule_shapes
from backporch.rules import BOOKS

LIBRARY = shipped()
SHAPES = rule_shapes(BOOKS)
COMPLAINTS = {
    "raster": {
        "none": "no-raster",
        "dim": "raster-dim",
        "a line across": "single-horizontal-line",
        "a line down": "single-vertical-line",
        "small": "raster-too-small width-too-small height-too-small",
        "big": "raster-too-large width-too-large height-too-large",
        "off centre": "off-centre-vertically off-centre-horizontally",
        "keystone": "keystone-sides keystone-top",
        "folded over at the top": "fold-over-top",
        "folded over at the bottom": "fold-over-bottom",
        "folded over at the left": "fold-over-left",
        "folded over at the right": "fold-over-right",
        "not linear": "top-stretched bottom-stretched left-stretched right-stretched middle-cramped",
        "shadowed by the neck": "neck-shadow",
        "retrace lines": "retrace-lines",
        "blooming": "blooming",
        "out of focus": "defocused",
        "brightness stuck": "brightness-stuck-bright brightness-stuck-dim",
        "ion burn": "ion-burn",
    },
    "sync": {
        "rolls up": "picture-rolls-up",
        "rolls down": "picture-rolls-down",
        "rolls slowly": "rolls-slowly",
        "rolls fast": "rolls-fast",
        "jitters": "picture-jitters",
        "lines in pairs": "lines-paired",
        "tears": "lines-tear",
        "leans": "picture-leans",
        "bends at the top": "bends-at-top",
        "weaves": "picture-weaves",
        "floats sideways": "floats-sideways",
        "both lost": "both-sync-lost",
        "loses lock when contrast is raised": "loses-lock-with-contrast",
        "loses lock on a channel change": "loses-lock-on-channel-change",
        "loses lock when warm": "loses-lock-when-warm",
    },
    "video": {
        "no picture": "blank-raster-no-snow blank-raster-with-snow",
        "weak": "picture-weak",
        "negative": "picture-negative",
        "smeared": "smeared",
        "ringing": "ringing",
        "hum in the picture": "hum-bar-one hum-bars-two",
        "snow": "picture-snowy",
        "sound bars": "sound-bars",
        "no blanking": "retrace-lines",
        "overload": "picture-overloaded",
        "brightness follows contrast": "brightness-follows-contrast",
    },
    "high voltage": {
        "none": "no-high-voltage-signs",
        "low": "raster-dim blooming raster-too-large",
        "arcs": "high-voltage-arcing",
        "corona": "high-voltage-corona",
        "fuse blows": "fuse-blows-at-once fuse-blows-later",
        "output tube glows red": "output-plate-red",
        "whistle present": "whistle-present",
        "whistle absent": "whistle-missing",
    },
    "heater": {
        "none": "all-heaters-dark",
        "one dark": "one-heater-dark",
        "part of the string dark": "some-heaters-dark",
        "too bright": "heaters-too-bright some-bright-some-dark",
        "flicker": "heaters-flicker",
        "slow start": "slow-start",
    },
    "sound": {
        "none": "no-sound",
        "weak": "sound-weak",
        "distorted": "sound-distorted",
        "hum": "sound-hum",
        "buzz": "sound-buzz",
        "crackles": "sound-crackles",
        "good": "sound-good",
    },
    "smell": {"burning": "burning-smell", "rotten": "rotten-smell", "smoke": "smoke"},
    "heat": {"a part too hot": "part-very-hot", "a part burnt": "part-burnt"},
    "what changed": {
        "when it was moved": "came-after-moving",
        "when it was tapped": "changes-when-tapped",
        "when a control was touched": "changes-with-control-touch",
        "when warm": "worse-when-warm better-when-warm",
        "when it was worked on": "came-after-work",
        "with the mains": "varies-with-mains",
        "with the channel": "varies-with-channel",
    },
}
ROWS = [
    (f"{family}, {complaint}", sign)
    for family, some in COMPLAINTS.items()
    for complaint, signs in some.items()
    for sign in signs.split()
]


def _speak_of(sign):
    """Return the rules and rows with a finding that rest on a sign, straight or through conditions."""
    conditions, grown = set(), True
    while grown:
        grown = False
        for shape in SHAPES:
            name = shape.concludes.fields and dict(shape.concludes.fields).get("name")
            if (
                shape.concludes.kind == Condition.__name__
                and name not in conditions
                and _reads(shape, sign, conditions)
            ):
                conditions.add(name)
                grown = True
    rules = [s.name for s in SHAPES if s.concludes.kind == Finding.__name__ and _reads(s, sign, conditions)]
    return [*rules, *(n for n, row in LIBRARY.usual_suspects.items() if row.sign in {sign, *conditions})]


def _reads(shape, sign, conditions):
    asked = [s for c in shape.clauses if not c.negated for s in c.one_of]
    return any(
        (s.kind == Symptom.__name__ and s.get("name") == sign)
        or (s.kind == Condition.__name__ and s.get("name") in conditions)
        for s in asked
    )


@pytest.mark.parametrize(("complaint", "sign"), ROWS, ids=lambda v: v.replace(" ", "-"))
def test_each_complaint_has_a_sign_and_two_that_speak_of_it(complaint, sign):
    """The sign of each complaint is known, and two rules or usual suspects at least rest on it."""
    assert sign in LIBRARY.symptoms, complaint
    assert len(_speak_of(sign)) >= 2
