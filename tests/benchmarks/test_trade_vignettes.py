"""How often the diagnosis names the stage that experience blames, on complaints as the trade writes them."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import BackporchError
from backporch.engine.knowledge.finder import find_symptoms
from backporch.engine.knowledge.library import shipped
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry
from backporch.engine.session.said_reading import in_figures

FILE = Path(__file__).parent.parent / "reference" / "trade_vignettes.yaml"
SETS = {"plover": "plover-17", "dunlin": "dunlin-24", "curlew": "curlew-19", "teal": "teal-14"}
SAID = [Entry("circumstance", "supply-aid", "full-mains"), Entry("circumstance", "hearing", "hears")]
"""As for the documented repairs: full mains, and whoever writes of a whistle hears it."""
FIELDS = {"answers", "traces", "parts", "repairs", "tubes", "exchanges"}
KINDS = FIELDS | {"set", "says", "signs", "read", "fault", "unfair"}


def _load():
    return yaml.safe_load(FILE.read_text(encoding="utf-8"))["vignettes"]


def _half(name):
    """Odd numbers were looked at while the program was mended, even ones only afterwards."""
    return "mended on" if int(name[1:]) % 2 else "kept back"


def _owners(bench, place):
    """Return the parts with the role, or the tubes with a section, that a place such as ``agc.tube`` names."""
    stage, _, role = place.partition(".")
    if role == "tube":
        tubes = bench.chassis.tubes.items()
        return [n for n, tube in tubes if any(s.stage == stage for s in tube.sections.values())]
    return [n for n, part in bench.chassis.parts.items() if part.stage == stage and part.role == role]


def _value(bench, offer, word):
    """Return an answer as a session takes it: a word for a reading stands for its side of the healthy band."""
    reading = bench.faults.offers[offer].measurement.reading
    return word if reading is None else in_figures(word, bench.faults.bins(offer), reading.unit)


def _entries(bench, vignette):
    """Give what was measured or tried as entries of a session."""
    for offer, word in vignette.get("answers", {}).items():
        yield Entry("answer", offer, _value(bench, offer, word))
    for port, state in vignette.get("traces", {}).items():
        yield Entry("trace", port, state)
    for place, word in vignette.get("parts", {}).items():
        yield from (Entry("answer", f"part-test@{part}", word) for part in _owners(bench, place))
    for place, word in vignette.get("repairs", {}).items():
        yield from (Entry("repair", owner, word) for owner in _owners(bench, place))
    for kind, offer in (("tubes", "test-tube"), ("exchanges", "exchange-tube")):
        for stage, word in vignette.get(kind, {}).items():
            yield from (Entry("answer", f"{offer}@{t}", word) for t in _owners(bench, f"{stage}.tube"))


def _play(bench, vignette):
    """Return the places of the stages at fault and the order, from the signs and after what was read."""
    seen = [*SAID, *(Entry("symptom", sign) for sign in vignette["signs"])]
    told = list(_entries(bench, vignette))
    for entries in (seen, [*seen, *told]):
        order = [stage for stage, _ in assess(bench, entries).ranking.stages]
        yield min(order.index(stage) + 1 for stage in vignette["fault"]), order


def _report(title, places):
    first, three = (sum(place <= most for place in places) for most in (1, 3))
    print(f"{title:38s} n={len(places):3d}  first {first / len(places):4.0%}  in three {three / len(places):4.0%}")


@pytest.fixture(scope="module")
def benches():
    """Set up the shipped receivers once."""
    return {short: make_workbench(name) for short, name in SETS.items()}


@pytest.mark.benchmark
def test_vignettes_are_played(benches):
    """Every complaint is ranked from its signs and again with what was read; both halves are told apart."""
    vignettes = _load()
    played = {name: list(_play(benches[v["set"]], v)) for name, v in vignettes.items()}
    for half in ("mended on", "kept back"):
        names = [name for name in vignettes if _half(name) == half]
        read = [name for name in names if FIELDS & set(vignettes[name])]
        _report(f"{half}: signs alone", [played[name][0][0] for name in names])
        _report(f"{half}: after the readings", [played[name][1][0] for name in names])
        _report(f"{half}: with a reading, before", [played[name][0][0] for name in read])
        _report(f"{half}: with a reading, after", [played[name][1][0] for name in read])
    for name, ((before, _), (after, order)) in played.items():
        if after > 1 and _half(name) == "mended on":
            print(f"{name}: {before} -> {after} {vignettes[name]['fault']}; leads {order[:3]}")
    assert len(played) == len(vignettes)


@pytest.mark.benchmark
def test_the_finder_knows_the_words():
    """Each sentence is given to the finder; told are the signs of a complaint that none of its sentences finds."""
    library, counts = shipped(), {"mended on": [0, 0], "kept back": [0, 0]}
    for name, vignette in _load().items():
        sentences = [s for s in vignette["says"].replace("...", ".").split(".") if s.strip()]
        pieces = [piece for s in sentences for piece in (s, *s.split(","))]
        names = {sign for piece in pieces for sign in find_symptoms(library, piece)[:3]}
        missed = [sign for sign in vignette["signs"] if sign not in names]
        counts[_half(name)][0] += len(vignette["signs"]) - len(missed)
        counts[_half(name)][1] += len(vignette["signs"])
        if missed and _half(name) == "mended on":
            print(f"{name}: not found {missed} in: {vignette['says']}")
    for half, (found, asked) in counts.items():
        print(f"{half}: signs among the first three of some sentence or part of one: {found} of {asked}")
        assert found <= asked


def test_vignettes_are_well_formed(benches):
    """Signs, answers, places and stages exist on the receiver of each complaint, and it was written out."""
    vignettes = _load()
    wrong = []
    for name, vignette in vignettes.items():
        bench = benches[vignette["set"]]
        places = [p for f in ("parts", "repairs") for p in vignette.get(f, {})]
        places += [f"{stage}.tube" for f in ("tubes", "exchanges") for stage in vignette.get(f, {})]
        if not set(vignette) <= KINDS or not vignette["says"] or not vignette["signs"]:
            wrong.append(f"{name}: fields")
        if not all(_owners(bench, place) for place in places):
            wrong.append(f"{name}: places")
        if not set(vignette["fault"]) <= set(bench.chassis.stages):
            wrong.append(f"{name}: stages")
        try:
            assess(bench, [Entry("symptom", s) for s in vignette["signs"]] + list(_entries(bench, vignette)))
        except (BackporchError, KeyError) as error:
            wrong.append(f"{name}: {error}")
        if not set(vignette["signs"]) <= set(shipped().symptoms):
            wrong.append(f"{name}: signs")

    assert not wrong
    assert len(vignettes) >= 100
