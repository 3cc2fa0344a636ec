"""Try whether somebody who sees only the pictures of the gallery names the symptoms.

Make a trial for somebody who has not seen the gallery, in a folder that holds no key::

    python tests/benchmarks/gallery_trial.py make FOLDER --seed 7

It writes the numbered pictures, titles.txt with all titles, and answers.csv to fill in: the number of a picture,
then up to three titles, the likeliest first.  Then count::

    python tests/benchmarks/gallery_trial.py score FOLDER/answers.csv --seed 7

and put what it prints into tests/reference/gallery_trials.yaml, with who tried and what that person knew.
"""

from __future__ import annotations

import argparse
import csv
import random
from pathlib import Path

import yaml

from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.picture.sheet import strip

COLUMNS = 300


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


def main() -> None:
    """Make or score a trial."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=["make", "score"])
    parser.add_argument("path", type=Path)
    parser.add_argument("--seed", type=int, required=True)
    given = parser.parse_args()
    if given.what == "make":
        make(given.path, given.seed)
    else:
        print(yaml.safe_dump(score(given.path, given.seed), sort_keys=False))


if __name__ == "__main__":
    main()
