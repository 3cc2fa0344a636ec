# SPDX-License-Identifier: MIT
"""Puts a workbench together: the composition root, the one place that knows rules and engine both."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import NoReturn

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.metering import BENCH_METERS, bench_meter
from backporch.engine.chassis.model import Chassis
from backporch.engine.cli.progress import watched
from backporch.engine.cli.rigs import find_rig
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.session.baseline import kept_baseline
from backporch.engine.session.bench_file import BenchFile, load_bench_file
from backporch.engine.session.workbench import Bench, FaultModel, Workbench

__all__ = ["make_bench", "make_desk", "make_workbench"]


def make_bench(
    library: Library,
    owned: Iterable[str] = (),
    lacking: Iterable[str] = (),
    rig: str = "",
    chassis: Chassis | None = None,
    file: str = "",
) -> Bench:
    """Return the common instruments, with those added that are owned and those taken away that are lacking.

    Where the usual meter is lacking and another is owned, that one is read in its place.

    Args:
        library: the knowledge base.
        owned: instruments beyond the common ones.
        lacking: common instruments that are not there.
        rig: name or file of the substitute tube and yoke, or "" for the set's own.
        chassis: what stands on the rig.
        file: the person's bench file, or "" for none; what is given beside it wins.
    Raises:
        UnknownWord: there is no such instrument or rig.
        BadInput: the chassis must not be run on that rig.
        BadFile: the bench file is wrong.
    """
    known = library.instruments
    for name in (*owned, *lacking):
        if name not in known:
            raise UnknownWord("instrument", name, known)
    common = {name for name, instrument in known.items() if instrument.common}
    mine = load_bench_file(Path(file), library) if file else BenchFile.model_validate({"schema": 1})
    common = (common | set(mine.has)) - set(mine.lacks)
    at_hand = (common | set(owned)) - set(lacking)
    reads = bench_meter(at_hand)
    plain = Bench(
        frozenset(at_hand | ({"meter"} if reads else set())),
        meter=reads or "meter",
        minutes=mine.minutes,
        replace_minutes=mine.replace_minutes,
        search_minutes=mine.search_minutes,
    )
    if not rig or chassis is None:
        return plain
    from backporch.engine.chassis.rig import rig_report

    report = rig_report(chassis, find_rig(rig, library), library)
    if report.refused:
        raise BadInput(f"The rig {rig} will not do on {chassis.name}. {' '.join(report.refused)}")
    explains = {symptom: d.says for d in report.differences for symptom in d.explains}
    return replace(plain, rig=rig, rig_traits=report.traits, rig_explains=explains)


def make_workbench(
    chassis_name: str,
    owned: Iterable[str] = (),
    lacking: Iterable[str] = (),
    rig: str = "",
    bench_file: str = "",
) -> Workbench:
    """Return a workbench for a shipped chassis or a chassis file, on its own tube or on a rig.

    Raises:
        BackporchError: the chassis or an instrument is unknown, or a file is wrong.
    """
    library = shipped()
    chassis = load_chassis(chassis_name, library)
    bench = make_bench(library, owned, lacking, rig, chassis, bench_file)

    def inference() -> Inference:
        from backporch.rules import BOOKS

        return Inference(BOOKS, library.usual_suspects)

    def faults() -> FaultModel:
        from backporch.engine.chassis.dictionary import Dictionary

        return Dictionary.build(
            chassis,
            library,
            baseline=kept_baseline(chassis.name),
            meter=BENCH_METERS[bench.meter],
            watch=lambda pieces: watched(pieces, "Simulating every fault, once for this chassis"),
        )

    return Workbench(library, chassis, bench, inference, faults)


def make_desk(library: Library, chassis: Chassis) -> Workbench:
    """Return a workbench for looking things up: without rules, and without a fault model to wait for."""

    def nothing() -> NoReturn:
        raise RuntimeError("nothing is diagnosed at the desk")

    return Workbench(library, chassis, make_bench(library), nothing, nothing)
