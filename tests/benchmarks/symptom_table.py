"""Prints, for each symptom and the commonest pairs, the first three stages on each shipped receiver.

For whoever keeps the rules: read every line and ask whether a bench veteran would begin there.
Run it with ``python tests/benchmarks/symptom_table.py`` (some symptoms alone: add their names).
"""

from __future__ import annotations

import sys

from backporch.engine.cli.setup import make_workbench
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry

RECEIVERS = ("plover-17", "dunlin-24", "curlew-19", "teal-14")
SAID = [Entry("circumstance", "supply-aid", "full-mains"), Entry("circumstance", "hearing", "hears")]
TOGETHER = """
no-raster sound-good
no-raster sound-good whistle-present
no-raster sound-good whistle-missing
no-raster sound-good no-high-voltage-signs
no-raster no-sound
no-raster sound-hum
no-raster picture-tube-heater-dark
no-raster output-plate-red
no-raster whistle-wrong
no-raster worse-when-warm sound-good
no-raster came-after-work sound-good
no-raster fuse-blows-later
blank-raster-no-snow sound-good
blank-raster-no-snow no-sound
blank-raster-with-snow no-sound
blank-raster-with-snow sound-good
blank-raster-no-snow retrace-lines
picture-snowy sound-weak
picture-weak sound-good
picture-weak sound-weak
picture-weak picture-snowy
picture-weak picture-rolls
picture-weak both-sync-lost
hum-bar-one sound-hum
hum-bar-one picture-weaves
hum-bars-two picture-weaves
hum-bars-two sound-hum
hum-bar-one sound-good
picture-weaves sound-hum
bends-at-top sound-hum
height-too-small width-too-small
height-too-small top-stretched
height-too-small bottom-stretched
height-too-small fold-over-bottom
height-too-small worse-when-warm
fold-over-bottom top-stretched
raster-too-small raster-dim
raster-too-small sound-weak
raster-too-small sound-hum
width-too-small raster-dim
width-too-small output-plate-red
width-too-small fold-over-right
width-too-small fold-over-left
width-too-small blooming
single-horizontal-line sound-good
single-horizontal-line worse-when-warm
single-horizontal-line came-after-work
single-vertical-line sound-good
picture-rolls sound-hum
picture-rolls hold-at-end
picture-rolls worse-when-warm
picture-rolls came-after-work
picture-rolls lines-tear
picture-rolls-up hold-at-end
picture-rolls height-too-small
picture-rolls loses-lock-with-contrast
loses-lock-when-warm picture-rolls
loses-lock-when-warm diagonal-bars
hold-drifts diagonal-bars
hold-drifts picture-rolls
diagonal-bars hold-at-end
diagonal-bars picture-rolls
diagonal-bars whistle-wrong
both-sync-lost picture-overloaded
both-sync-lost picture-weak
both-sync-lost hum-bars-two
both-sync-lost sound-buzz
both-sync-lost sound-good
lines-tear loses-lock-with-contrast
lines-tear picture-snowy
lines-tear picture-leans
lines-tear line-pulls-with-white
picture-leans line-pulls-with-white
picture-negative sound-buzz
picture-negative picture-overloaded
picture-negative sound-good
picture-negative smeared
picture-overloaded sound-buzz
picture-overloaded picture-rolls
smeared picture-weak
smeared picture-negative
smeared sound-good
blooming raster-dim
blooming defocused
blooming width-too-small
raster-dim sound-good
raster-dim slow-picture
raster-dim defocused
raster-dim height-too-small
brightness-stuck-bright retrace-lines
brightness-stuck-bright blank-raster-no-snow
brightness-stuck-bright picture-weak
keystone-sides sound-good
keystone-top sound-good
sound-bars sound-distorted
sound-bars fine-pattern
fine-pattern varies-with-channel
ringing picture-soft
ringing picture-negative
vertical-bars-left width-too-small
no-sound picture-weak
no-sound sound-hum
set-dead came-after-work
set-dead fuse-blows-at-once
some-heaters-dark no-raster
one-heater-dark no-sound
fuse-blows-later rectifier-violet
picture-intermittent changes-when-tapped
picture-intermittent worse-when-warm
retrace-lines raster-too-large
floats-sideways lines-tear
floats-sideways hold-at-end
split-by-bar hold-at-end
lines-paired picture-jitters
""".strip().splitlines()


def first_three(bench, symptoms):
    """Return the first three stages with their shares, in words."""
    ranking = assess(bench, [*SAID, *(Entry("symptom", name) for name in symptoms)]).ranking
    return ", ".join(f"{stage} {share:.0%}" for stage, share in ranking.stages[:3])


def main(wanted):
    """Print the table; receivers that say the same share a line."""
    benches = {name: make_workbench(name) for name in RECEIVERS}
    every = benches["plover-17"].library.symptoms
    rows = [(name,) for name in every] + [tuple(line.split()) for line in TOGETHER]
    for row in rows:
        if wanted and not set(row) & set(wanted):
            continue
        said = {name: first_three(bench, row) for name, bench in benches.items()}
        print(" + ".join(row))
        for text in dict.fromkeys(said.values()):
            print(f"    {' '.join(n.split('-')[0] for n in said if said[n] == text):28s} {text}")


if __name__ == "__main__":
    main(sys.argv[1:])
