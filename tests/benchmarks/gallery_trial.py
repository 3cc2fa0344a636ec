"""Try whether somebody who sees only the pictures of the gallery names the symptoms.

Make a trial for somebody who has not seen the gallery, in a folder that holds no key::

    python tests/benchmarks/gallery_trial.py make FOLDER --seed 7

It writes the numbered pictures, titles.txt with all titles, and answers.csv to fill in: the number of a picture,
then up to three titles, the likeliest first.  Then count::

    python tests/benchmarks/gallery_trial.py score FOLDER/answers.csv --seed 7

and put what it prints into tests/reference/gallery_trials.yaml, with who tried and what that person knew.

A comparison of pixels, which knows nothing of televisions, tells how far the drawings stand apart when a fault is
weaker or stronger than in the gallery and the set scans 625 lines::

    python tests/benchmarks/gallery_trial.py pixels --strength 0.7
"""

from __future__ import annotations

import argparse
import csv
import random
from pathlib import Path

import numpy as np
import yaml

from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.knowledge.models import Drawn
from backporch.engine.picture.look import complete_look
from backporch.engine.picture.render import screen_picture
from backporch.engine.picture.sheet import strip
from backporch.engine.picture.shots import shot_camera

COLUMNS = 300
_OTHER_CAPTIONS = 8.0
"""Greys by which other captions set two drawings apart; a person reads them."""


def order(library: Library, seed: int) -> dict[str, str]:
    """Return which symptom stands under which number."""
    names = sorted(library.gallery)
    random.Random(seed).shuffle(names)
    return {f"{n:02d}": name for n, name in enumerate(names, start=1)}


def make(folder: Path, seed: int) -> None:
    """Write numbered pictures, the titles, and a sheet for the answers."""
    library = shipped()
    folder.mkdir(parents=True, exist_ok=True)
    numbers = order(library, seed)
    for number, name in numbers.items():
        strip(library.gallery[name], COLUMNS).save(folder / f"{number}.png")
    titles = sorted(library.symptoms[name].title for name in library.gallery)
    (folder / "titles.txt").write_text("\n".join(titles) + "\n", encoding="utf-8")
    with (folder / "answers.csv").open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(["number", "first", "second", "third"])
        rows.writerows([number, "", "", ""] for number in numbers)


def score(answers: Path, seed: int) -> dict[str, object]:
    """Return shares named first and within three, and what was missed."""
    library = shipped()
    numbers = order(library, seed)
    titled = {symptom.title.lower(): name for name, symptom in library.symptoms.items()}
    first = within = 0
    missed = {}
    with answers.open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            named = [(row[key] or "").strip().lower() for key in ("first", "second", "third")]
            named = [titled.get(word, word) for word in named if word]
            right = numbers[row["number"]]
            first += named[:1] == [right]
            within += right in named
            if named[:1] != [right]:
                missed[right] = named
    count = len(numbers)
    return {
        "pictures": count,
        "first": round(first / count, 3),
        "within_three": round(within / count, 3),
        "missed": missed,
    }


def pixels(strength: float) -> dict[str, object]:
    """Return how often the nearest drawing of the gallery is that of the symptom drawn at another strength."""
    library = shipped()
    known = {name: _small_shots(entry, 1.0, "525/60") for name, entry in library.gallery.items()}
    first = within = 0
    missed = {}
    for name, entry in library.gallery.items():
        shots = _small_shots(entry, strength, "625/50")
        apart = {
            other: _distance(shots, its)
            + _OTHER_CAPTIONS * (_captions(entry) != _captions(library.gallery[other]))
            for other, its in known.items()
        }
        nearest = sorted(apart, key=apart.__getitem__)[:3]
        first += nearest[0] == name
        within += name in nearest
        if nearest[0] != name:
            missed[name] = nearest
    count = len(known)
    shares = {"first": round(first / count, 3), "within_three": round(within / count, 3)}
    return {"pictures": count, **shares, "missed": missed}


def _captions(entry: Drawn) -> tuple[str, ...]:
    return tuple(shot.caption for shot in entry.shots)


def _small_shots(entry: Drawn, strength: float, standard: str) -> list[np.ndarray]:
    """Return the shots at 40 by 30, every look ``strength`` times as far from a healthy picture."""
    healthy = complete_look({})
    shots = []
    for shot in entry.shots:
        look = {name: healthy[name] + strength * (value - healthy[name]) for name, value in shot.look.items()}
        grey = screen_picture(look, shot_camera(shot, 160, standard, 5)).astype(float).mean(axis=2)
        shots.append(grey.reshape(30, 4, 40, 4).mean(axis=(1, 3)))
    return shots


def _distance(one: list[np.ndarray], other: list[np.ndarray]) -> float:
    """Return the mean difference of shots; the last stands for those that are missing."""
    pairs = range(max(len(one), len(other)))
    return float(
        np.mean([np.abs(one[min(n, len(one) - 1)] - other[min(n, len(other) - 1)]).mean() for n in pairs])
    )


def main() -> None:
    """Make or score a trial."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=["make", "score", "pixels"])
    parser.add_argument("path", type=Path, nargs="?", default=Path())
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--strength", type=float, default=0.7)
    given = parser.parse_args()
    if given.what == "make":
        make(given.path, given.seed)
    elif given.what == "pixels":
        print(yaml.safe_dump(pixels(given.strength), sort_keys=False))
    else:
        print(yaml.safe_dump(score(given.path, given.seed), sort_keys=False))


if __name__ == "__main__":
    main()
