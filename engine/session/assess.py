# SPDX-License-Identifier: MIT
"""Where a diagnosis stands: the ranking that follows from everything that was said so far.

A pure function of the workbench and the standing entries of the session: undo, correction and
replay are the same computation with other entries.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.hypotheses import RENEWED_GROUPS
from backporch.engine.errors import UnknownWord
from backporch.engine.facts import Answer, Symptom, Traced, Trait
from backporch.engine.inference import Conclusion, Deduction, statement
from backporch.engine.ranking import Evidence, Ranking, WeighedFinding, rank, weigh_findings
from backporch.engine.safety.state import Event, SafetyState, after
from backporch.engine.session.cold_check import with_cold_readings
from backporch.engine.session.contradictions import Clash, clashes, clashing_entries
from backporch.engine.session.entry import Entry
from backporch.engine.session.evidence import chassis_facts, session_facts
from backporch.engine.session.moment import awake
from backporch.engine.session.questions import UNSURE
from backporch.engine.session.reading import TypedReading, read_reading
from backporch.engine.session.repairs import remaining
from backporch.engine.session.search_entry import found_by_hand, parts_tested
from backporch.engine.session.trace import traced_readings
from backporch.engine.session.workbench import Offer, Workbench

__all__ = ["Assessment", "assess", "circumstances", "read_answer"]

Floats = NDArray[np.float64]

_AIDS = ("supply-aid", "lamp-power", "variable-volts")
_RENEWED = ("not-cured", "renewed", "partly")
_NOT_CURED = 0.03
_TESTED_GOOD = 0.1
"""How often a part that is at fault passes a test by hand; our judgement, no source."""
_SILENT = 0.02
"""Share of a fault that shows nothing, on a bench where something is seen; our judgement, no source."""


@dataclass(frozen=True)
class Assessment:
    """The ranking with all that it rests on."""

    ranking: Ranking
    conclusion: Conclusion
    prior: Floats
    evidence: tuple[Evidence, ...]
    entries: tuple[Entry, ...]
    """The standing entries that it was made from, without those that a repair has made void."""
    clashes: tuple[Clash, ...] = ()
    """Answers that do not go together; none of them counts."""

    @property
    def symptoms(self) -> tuple[str, ...]:
        """The symptoms chosen, in the order in which they were."""
        return tuple(e.key for e in self.entries if e.kind == "symptom" and e.value != "no")

    def reasons(self, most: int = 6) -> tuple[tuple[Deduction, ...], ...]:
        """Return why the leading stages lead: chains, the newest conclusion first, of ``most`` steps together."""
        chains: list[tuple[Deduction, ...]] = []
        for finding in _strongest(self):
            chain = self.conclusion.chain(finding.deduction, most)
            if sum(map(len, chains)) + len(chain) <= most:
                chains.append(chain)
        return tuple(chains)


def _strongest(assessment: Assessment) -> list[WeighedFinding]:
    """Return the findings on the two leading stages that count, the leading stage first, then the heaviest."""
    leading = [name for name, _ in assessment.ranking.stages[:2]]
    findings = [f for f in assessment.ranking.findings if f.counted and f.stage in leading]
    return sorted(findings, key=lambda f: (leading.index(f.stage), -abs(f.log_ratio), f.deduction))


def circumstances(entries: Iterable[Entry]) -> dict[str, str]:
    """Return the answers to the opening questions by name."""
    return {e.key: e.value for e in entries if e.kind == "circumstance"}


def read_answer(offer: Offer, text: str) -> str | TypedReading:
    """Return a saved answer as the fault model takes it: an outcome's name or a reading.

    Raises:
        UnknownWord: there is no such outcome.
        BadInput: it is no reading in the unit of the measurement.
    """
    measurement = offer.measurement
    if measurement.reading is not None:
        return read_reading(text, measurement.reading.unit)
    if text not in measurement.outcomes and text != UNSURE:
        raise UnknownWord("outcome", text, measurement.outcomes)
    return text


def assess(workbench: Workbench, entries: Sequence[Entry]) -> Assessment:
    """Return where the diagnosis stands.

    Args:
        workbench: Knowledge, chassis, rules and fault model.
        entries: The standing entries of the session (:func:`backporch.engine.session.entry.live`).
    Raises:
        BackporchError: an entry names something that this chassis does not have.
    """
    entries = with_cold_readings(workbench.library, remaining(workbench, entries))
    said = circumstances(entries)
    renewed = frozenset(e.key for e in entries if e.kind == "repair" and e.value in _RENEWED)
    renewed |= RENEWED_GROUPS.get(said.get("renewed", ""), frozenset())
    prior = workbench.faults.prior(
        said.get("condition", "worked-last-week"), said.get("last-event", "unknown"), renewed
    )
    if any(e.kind == "symptom" and e.value != "no" for e in entries):
        prior = prior * (_SILENT + (1.0 - _SILENT) * workbench.visibility)
        prior = prior / prior.sum()
    found = clashes(workbench, entries)
    idle = clashing_entries(workbench, entries, found)
    counted = tuple(e for e in _counted(workbench, entries) if e not in idle)
    facts = list(session_facts(workbench.library, counted))
    typed = {statement(fact) for fact in facts}
    traced = [fact for fact in traced_readings(workbench, counted) if statement(fact) not in typed]
    stages = {fact["stage"] for fact in (*facts, *traced) if isinstance(fact, Traced)}
    facts += chassis_facts(workbench.library, workbench.chassis, stages)
    facts += [Trait(name=name, value=value) for name, value in workbench.bench.rig_traits]
    conclusion = workbench.inference.run([*facts, *traced])
    explaining = frozenset(statement(fact) for fact in traced)
    findings = weigh_findings(conclusion, workbench.library.strengths, explaining)
    evidence = tuple(_evidence(workbench, counted))
    owners = [h.stage for h in workbench.faults.hypotheses]
    return Assessment(
        ranking=rank(prior, owners, findings, evidence),
        conclusion=conclusion,
        prior=prior,
        evidence=evidence,
        entries=tuple(entries),
        clashes=found,
    )


def _counted(workbench: Workbench, entries: Sequence[Entry]) -> Iterable[Entry]:
    """Give the entries that count: an answer with power, but not known to be full mains, tells of no stage.

    Nor does one that was given while a fault that comes and goes was asleep.

    What stood between mains and set when the answer was given decides; the lamp itself counts.  A symptom that
    the bench rig accounts for says nothing of the chassis.
    """
    bench = SafetyState(rated_v=workbench.chassis.mains_v)
    last = {e.key: n for n, e in enumerate(entries) if e.kind == "circumstance"}
    place = {id(e): n for n, e in enumerate(entries)}
    for entry in awake(workbench, entries):
        if entry.kind == "circumstance" and entry.key in _AIDS:
            bench = after(bench, [Event("said", entry.key, entry.value)])
        if entry.kind == "resumed":
            bench = after(bench, [Event("said", "supply-aid", "unknown")])
        if entry.kind == "circumstance" and last[entry.key] != place[id(entry)]:
            continue
        if entry.kind == "symptom" and entry.key in workbench.bench.rig_explains:
            continue
        offer = workbench.faults.offers.get(entry.key) if entry.kind == "answer" else None
        if entry.kind == "repair" and entry.value == "not-cured" and not bench.full_mains:
            yield Entry("repair", entry.key, "renewed", entry.at)
            continue
        if offer is not None and not bench.full_mains:
            measurement = offer.measurement
            powered = measurement.power == "on" or measurement.kind == "exchange"
            if powered and "lamp-limiter" not in measurement.instruments:
                continue
        yield entry


def _evidence(workbench: Workbench, entries: Sequence[Entry]) -> Iterable[Evidence]:
    for entry in entries:
        if entry.kind == "answer" and entry.value != UNSURE:
            if entry.key not in workbench.faults.offers:
                raise UnknownWord("measurement on this chassis", entry.key, workbench.faults.offers)
            offer = workbench.faults.offers[entry.key]
            answer = read_answer(offer, entry.value)
            if isinstance(answer, TypedReading) and answer.shape == "unsure":
                continue
            told = None
            if isinstance(answer, str) and not offer.target:
                told = statement(Answer(measurement=entry.key, outcome=answer))
            likelihood = workbench.faults.likelihood(entry.key, answer)
            yield Evidence(entry.key, likelihood, told, offer.measurement.cause_of_error)
        elif entry.kind == "symptom" and entry.value != "no" and entry.key in workbench.symptom_likelihoods:
            likelihood = workbench.symptom_likelihoods[entry.key]
            yield Evidence(f"symptom:{entry.key}", likelihood, statement(Symptom(name=entry.key)))
        elif entry.kind == "repair" and entry.value in ("not-cured", "cured"):
            parts = np.array([h.owner == entry.key for h in workbench.faults.hypotheses])
            cured = np.where(parts, 1.0 - _NOT_CURED, _NOT_CURED)
            likelihood = cured if entry.value == "cured" else 1.0 - cured
            yield Evidence(f"repair:{entry.key}", likelihood)
        elif entry.kind == "search":
            tested = set(parts_tested(entry)) - {found_by_hand(entry)}
            good = np.array([_TESTED_GOOD if h.owner in tested else 1.0 for h in workbench.faults.hypotheses])
            yield Evidence(f"search:{entry.value}", good)
