# SPDX-License-Identifier: MIT
"""The job sheet of a session: one HTML page that goes into the cabinet.

Limits: retold with the knowledge of today's program; see :mod:`backporch.engine.report.steps`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from backporch.engine.errors import BadInput
from backporch.engine.picture.diagram import diagram_svg
from backporch.engine.picture.sheet import png_bytes, strip
from backporch.engine.picture.stages import blocks_of, chains_of
from backporch.engine.report.gallery_page import alternative
from backporch.engine.report.narrowing import narrowing_svg
from backporch.engine.report.page import filled, in_page
from backporch.engine.report.steps import Told
from backporch.engine.session.assess import Assessment
from backporch.engine.session.described import describe
from backporch.engine.session.entry import Entry
from backporch.engine.session.suspects import suspects
from backporch.engine.session.wording import claim_text
from backporch.engine.session.workbench import Workbench

__all__ = ["Job", "session_page"]

_COLUMNS = 220
_GREYS = 40
_PLOTTED = 5
_SUSPECTS = 5
_REASONS = 6
_COMPUTED = 4


@dataclass(frozen=True)
class Job:
    """All that the page is made from."""

    name: str
    workbench: Workbench
    entries: tuple[Entry, ...]
    told: tuple[Told, ...]


def session_page(job: Job) -> str:
    """Return the job sheet as one HTML page."""
    last = next((t.assessment for t in reversed(job.told) if t.assessment), None)
    return filled(
        "session.html",
        name=job.name,
        set_rows=_set_rows(job),
        complaint=_complaint(job),
        cautions=_cautions(job),
        steps=[_step_row(job, n, t) for n, t in enumerate(job.told, start=1)],
        narrowing=_narrowing(job),
        diagram=_diagram(job, last),
        conclusion=_conclusion(job, last),
        changed=_changed(job),
        proof=list(job.workbench.library.proof.values()),
    )


def _set_rows(job: Job) -> list[tuple[str, str]]:
    """Return what stands at the head of the sheet: the set and the bench."""
    chassis, library = job.workbench.chassis, job.workbench.library
    times = [e.at for e in job.entries if e.at]
    rows = [("Set", chassis.title), ("Chassis file", chassis.name), ("Scanning", f"{chassis.standard} interlaced")]
    rows.append(("Mains", f"{chassis.mains_v:g} V, {chassis.mains_hz:g} Hz. {job.workbench.mains_connection()}"))
    rows += [(d.about, d.said) for d in (describe(library, e) for e in job.entries if e.kind == "circumstance")]
    if times:
        rows.append(("Worked on", f"{_day(min(times))} to {_day(max(times))} (UTC)"))
    return rows


def _day(at: str) -> str:
    return at[:16].replace("T", " ")


def _complaint(job: Job) -> list[dict[str, Any]]:
    """Return each symptom with its drawing."""
    library = job.workbench.library
    rows = []
    for entry in job.entries:
        if entry.kind != "symptom" or entry.key not in library.symptoms:
            continue
        symptom, drawn = library.symptoms[entry.key], library.gallery.get(entry.key)
        row: dict[str, Any] = {
            "title": symptom.title,
            "seen": symptom.seen,
            "picture": "",
            "there": entry.value != "no",
        }
        if drawn is not None and entry.value != "no":
            still = strip(drawn, _COLUMNS, job.workbench.chassis.standard)
            row |= {
                "picture": in_page(png_bytes(still, colours=_GREYS), "image/png"),
                "alt": alternative(symptom.seen, drawn),
                "width": still.width,
                "height": still.height,
            }
        rows.append(row)
    return rows


def _cautions(job: Job) -> list[str]:
    """Return the cautions of the set and those that were shown, each once."""
    library = job.workbench.library
    shown = [e.key for e in job.entries if e.kind == "caution" and e.key in library.cautions]
    first = [c.say for c in job.workbench.first_cautions()]
    return list(dict.fromkeys([*first, *(library.cautions[key].say for key in shown)]))


def _step_row(job: Job, number: int, told: Told) -> dict[str, str]:
    best = ""
    if told.assessment is not None:
        stage, share = told.assessment.ranking.stages[0]
        best = f"{_title(job, stage)}, {_percent(share)}"
    where = told.where
    return {
        "number": str(number),
        "did": told.did,
        "where": where,
        "expected": told.expected,
        "found": told.found,
        "best": best,
        "at": _day(told.entry.at),
    }


def _narrowing(job: Job) -> dict[str, Any]:
    """Return the plot of the odds, and the same as a table."""
    moved = [(n, t) for n, t in enumerate(job.told, start=1) if t.assessment is not None]
    if not moved:
        return {"rows": [], "plot": "", "steps": []}
    rankings = [t.assessment.ranking for _, t in moved if t.assessment is not None]
    highest = {name: max(r.probability(name) for r in rankings) for name, _ in rankings[-1].stages}
    best = sorted(highest, key=lambda name: -highest[name])[:_PLOTTED]
    shares = {_title(job, name): [r.probability(name) for r in rankings] for name in best}
    plot = narrowing_svg([str(n) for n, _ in moved], shares) if len(moved) > 1 else ""
    rows = [{"title": title, "shares": [_short(v) for v in values]} for title, values in shares.items()]
    return {"rows": rows, "plot": plot, "steps": [str(n) for n, _ in moved]}


def _diagram(job: Job, last: Assessment | None) -> dict[str, Any]:
    """Return the block diagram as a picture, or as lines of text where it cannot be drawn."""
    blocks = blocks_of(job.workbench.chassis)
    titles = {name: _title(job, name) for name in blocks}
    shares = dict(last.ranking.stages) if last else {}
    try:
        svg = diagram_svg(blocks, titles, shares)
    except BadInput:
        svg = ""
    lines = [
        {"depth": depth, "text": " → ".join(_with_share(titles[n], shares.get(n, 0.0)) for n in chain)}
        for depth, chain in chains_of(blocks)
    ]
    return {"svg": svg, "lines": lines}


def _with_share(title: str, share: float) -> str:
    return f"{title} ({_percent(share)})" if share >= 0.005 else title


def _conclusion(job: Job, last: Assessment | None) -> dict[str, Any]:
    """Return what was found, the likeliest faults, and the reasons with their arithmetic."""
    if last is None:
        return {"found": "", "stage": "", "suspects": [], "reasons": [], "computed": []}
    cured = next((e.key for e in reversed(job.entries) if e.kind == "repair" and e.value == "cured"), "")
    stage, share = last.ranking.stages[0]
    listed = [
        {"title": s.title, "share": _percent(s.share), "how": s.how_to_test}
        for s in suspects(job.workbench, last, most=_SUSPECTS)
    ]
    return {
        "found": cured,
        "stage": f"{_title(job, stage)}, {_percent(share)}",
        "suspects": listed,
        "reasons": _reasons(job, last),
        "computed": _computed(job),
    }


def _reasons(job: Job, last: Assessment) -> list[dict[str, str]]:
    leading = [name for name, _ in last.ranking.stages[:2]]
    findings = [f for f in last.ranking.findings if f.counted and f.stage in leading]
    findings.sort(key=lambda f: (-abs(f.log_ratio), f.stage))
    rows: dict[str, dict[str, str]] = {}
    for finding in findings:
        deduction = finding.deduction
        claim = claim_text(deduction, job.workbench.library)
        rows.setdefault(claim, {"claim": claim, "reason": deduction.reason, "source": deduction.source})
    return list(rows.values())[:_REASONS]


def _computed(job: Job) -> list[dict[str, Any]]:
    """Return the arithmetic of the readings: the last steps to the healthy value, with their numbers."""
    rows = []
    for told in job.told:
        if not told.computation:
            continue
        last = told.computation[-_COMPUTED:]
        steps = [{"text": f"{s.quantity} = {s.formula}", "numbers": f"= {s.numbers} = {s.result}"} for s in last]
        whole = ""
        if len(told.computation) > len(last):
            whole = f"backporch expect {job.workbench.chassis.name} {told.point} --why"
        rows.append(
            {"did": told.did, "expected": told.expected, "found": told.found, "steps": steps, "whole": whole}
        )
    return rows


def _changed(job: Job) -> list[dict[str, str]]:
    """Return the parts that were changed, with what came of it."""
    rows = []
    for entry in job.entries:
        if entry.kind == "repair":
            part = job.workbench.chassis.parts.get(entry.key)
            tube = job.workbench.chassis.tubes.get(entry.key)
            what = f"{part.kind} {part.value or ''}, {part.does}" if part else tube.type if tube else ""
            said = describe(job.workbench.library, entry).said
            rows.append({"part": entry.key, "what": what.strip(" ,"), "result": said, "at": _day(entry.at)})
    return rows


def _title(job: Job, stage: str) -> str:
    known = job.workbench.library.stages.get(stage)
    return known.title if known else stage


def _percent(share: float) -> str:
    return "under 1 %" if share < 0.01 else "over 99 %" if share > 0.99 else f"{100 * share:.0f} %"


def _short(share: float) -> str:
    return "<1 %" if share < 0.01 else ">99 %" if share > 0.99 else f"{100 * share:.0f} %"
