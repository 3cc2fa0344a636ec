# SPDX-License-Identifier: MIT
"""Everyday English as people use it of a faulty picture: word stems, and words that mean much the same.

Limits: the stems are rough; they need only be the same for the forms of one word.  The groups are our
judgement of what newcomers say, no source.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

__all__ = ["ALIKE", "stems", "words_of"]

_SMALL = frozenset(
    """a an and any are as at be been being but by do does doing for from get gets getting go goes going got had
    has have i if in into is it its just keep keeps like look looks looking make makes me my of on or our over
    really right seem seems seen set so some that the their them there they thing this though to too tv very was
    we were when while with you your""".split()
)
"""Words that say nothing here."""

_SPELT = {
    "telly": "television",
    "pic": "picture",
    "jitter": "jitters",
    "brilliance": "brightness",
    "center": "centre",
    "colour": "color",
    "program": "programme",
    "gray": "grey",
    "bent": "bend",
    "torn": "tear",
    "tore": "tear",
    "lit": "light",
    "fell": "fall",
    "blown": "blow",
    "blew": "blow",
    "grew": "grow",
    "shrunk": "shrink",
    "swollen": "swell",
    "burnt": "burn",
    "heard": "hear",
    "stuck": "stick",
    "stood": "stand",
    "hung": "hang",
    "went": "go",
    "valves": "tube",
    "valve": "tube",
    "feet": "foot",
    "halves": "half",
    "cant": "no",
    "can't": "no",
    "cannot": "no",
    "won't": "no",
    "wont": "no",
    "isn't": "no",
    "isnt": "no",
    "doesn't": "no",
    "doesnt": "no",
    "don't": "no",
    "dont": "no",
    "not": "no",
    "never": "no",
    "without": "no",
    "none": "no",
    "2": "two",
    "3": "three",
}

_GROUPS = """
rolls flips slips scrolls tumbles climbs slides sprockets
up upwards climbs rises above
down downwards drops falls sinks floor below
picture image frame programme scene show
picture screen tube
still stand stay steady hold lock settle rest stop
fast quickly mad whizz race spin
many several three multiple stacked times
jitters trembles shakes vibrates wobbles bounces hops twitches jumps nervous
waves weaves wobbles wiggles ripples snakes sways water swims
tears rips shreds ragged jagged yanks pulls jerks
slanted diagonal sloping oblique ribbons skewed
bars bands stripes strips ribbons streaks
leans bends curves crooked bowed hooks slanted
tilted crooked rotated hangs
sideways left side edge laterally
edge side border margin
drifts floats wanders slides moves
dark black dim gloomy unlit dull
light bright glows shines lit
bright glare brilliant blinding white
glows light shines orange
small tiny shrinks little
large big huge enormous oversized
small large fills size reach
gap band border reach
tall height high long
wide width broad
short squashed squeezed compressed flattened cramped
stretched long elongated enormous fat
narrow thin slim squeezed
blurred fuzzy soft unsharp
sharp focus crisp
detail definition small fine
fold doubled curls overlaps
swells grows balloons bigger blows expands inflates
fade vanish disappear gone lost
slow ages late minutes
snow blizzard noise static speckles grains ants
specks flecks dots spots sparkles
pale faint washed grey foggy milk weak misty
negative inverted reversed opposite
harsh contrast solid overloaded
smears smudges trails drags muddy
ghost double copy second shadow echo
repeats multiple copies outlines echo
hum drone
buzz rasp rattle
sound audio hear speaker loudspeaker volume voice music speech talk speak people drum bass
distorted harsh rough broken raspy
title caption writing letters text
channel station
knob control dial
knocks taps hits bangs thumps kicks slaps touches wiggles
moved carried transported delivered shipped upstairs
replaced fitted changed new recapped worked repaired soldered
capacitor condenser
tube bulb
heater filament
dead lifeless nothing
no nothing missing gone absent
smell stink odour reek
burn scorch singe char tar
rotten garlic foul
smoke fire fumes
spark arc lightning flash bolt
hiss sizzle fry bacon
ozone sharp thunderstorm
plate anode
whistle squeal whine pitch note tone
wrong strange odd
fuse breaker
once instant immediately straight
after later
purple violet lilac blue mauve
haze cloud mist
red cherry
flicker blink wink
dark cold unlit
swollen bulged leaking cracked
stain patch mark blotch
moon crescent
centre middle
point dot spot pinpoint
top upper
bottom lower lowest underneath
vertical upright
curtain drape wrinkle ripple
pattern herringbone weave crosshatch cloth moire
silvery metallic
head face forehead
leg foot
warm hot hour minutes
paired together bunch
pulses breathes pumps fades
intermittent cuts drops
car motorbike ignition
neck thin
end extreme far stop
adjust fiddle reset
shift move pull
sideways horizontal
television set
"""


_LONGEST = 600
_ALL_THE_TIME = re.compile(r"\b(?:all|whole)\s+(?:the\s+)?time\b", re.IGNORECASE)
_OF_A_STAGE = frozenset("hold timebase oscillator output amplitude linearity sync".split())


def _stem(word: str) -> str:
    for ending in ("ingly", "ing", "ed", "es", "s", "ly", "er", "en"):
        if word.endswith(ending) and len(word) - len(ending) >= (4 if ending in ("er", "en", "es") else 3):
            word = word[: -len(ending)]
            break
    if len(word) > 3 and word[-1] in "ey":
        word = word[:-1]
    if len(word) > 3 and word[-1] == word[-2]:
        word = word[:-1]
    return word


@lru_cache(maxsize=8192)
def _token(word: str) -> str:
    return _stem(_SPELT.get(word, word))


def words_of(text: str) -> tuple[str, ...]:
    """Return the words of a text in lower case, without marks, at most some dozens of them.

    Example:
        >>> words_of("B+ is LOW; can\\u2019t find it!")
        ('b+', 'is', 'low', "can't", 'find', 'it')
    """
    plain = re.sub(r"[^a-z0-9+']+", " ", text[:_LONGEST].lower().replace("\u2019", "'"))
    return tuple(plain.split())[:60]


def _one_tongue(words: tuple[str, ...]) -> tuple[str, ...]:
    """Return the words with those of one country put for those of another, where it takes more than one to tell.

    A frame is the picture, or the vertical deflection where its stage or control is spoken of, and no door.
    """
    found: list[str] = []
    for n, word in enumerate(words):
        before, after = words[n - 1 : n] or ("",), words[n + 1 : n + 2] or ("",)
        if word in ("frame", "frames") and before[0] not in ("door", "window"):
            found.append("vertical" if after[0] in _OF_A_STAGE else "picture")
        elif word == "line" and after[0] == "hold":
            found.append("horizontal")
        elif word in ("lack", "lacking") or (word == "lacks" and after[0] != "definition"):
            found += ["not", "enough"]
        else:
            found.append(word)
    return tuple(found)


def stems(text: str) -> tuple[str, ...]:
    """Return the stems of the words that count, in their order; of all words where none counts.

    Example:
        >>> stems("the rolling picture rolls") == (*stems("roll"), *stems("pictures"), *stems("rolled"))
        True
    """
    words = _one_tongue(words_of(_ALL_THE_TIME.sub(" ", text[:_LONGEST])))
    return tuple(_token(word) for word in words if word not in _SMALL) or tuple(map(_token, words))


def _alike() -> Mapping[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for line in _GROUPS.strip().splitlines():
        group = {_token(word) for word in line.split()}
        for word in group:
            found.setdefault(word, set()).update(group - {word})
    return {word: frozenset(others) for word, others in found.items()}


ALIKE = _alike()
"""Stem -> stems that mean much the same."""
