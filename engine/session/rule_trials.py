# SPDX-License-Identifier: MIT
"""What each rule is good for at the bench: an opening in which the diagnosis goes another way without it.

For tests and studies; the diagnosis itself does not need it.  An opening is what a person would have typed;
the circumstances of the set are those of the receiver on the bench, and those of a rig come from a rig.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, islice

from backporch.engine.chassis.rig import RigReport, rig_report
from backporch.engine.deduction import Statement
from backporch.engine.facts import Answer, Condition, Finding, Symptom, Traced, Trait
from backporch.engine.inference import Inference
from backporch.engine.knowledge.rigs import Rig
from backporch.engine.planning.choose import next_step
from backporch.engine.ranking import rank, weigh_findings
from backporch.engine.rule_study import fires, left_without, ways_to_fire
from backporch.engine.rulebook import ANY, RuleShape
from backporch.engine.session.assess import Assessment, assess
from backporch.engine.session.entry import Entry, entry_from
from backporch.engine.session.evidence import chassis_facts
from backporch.engine.session.interview import Interview
from backporch.engine.session.workbench import Workbench

__all__ = ["Change", "Trial", "openings_of", "rig_trials", "trial_of"]

_OPENED = {"loop-agc-opened": "clamp-the-agc", "loop-afc-opened": "ground-the-afc-line"}
_SAID = (Entry("circumstance", "supply-aid", "full-mains"),)
"""Said at every bench, since nothing else lets what is seen tell of a stage."""
_DANGERS = ("smoke", "burning-smell", "rotten-smell", "high-voltage-arcing")
"""Signs after which nothing is asked before the cause is mended."""
_RIGS: Mapping[str, Mapping[str, str]] = {
    "long lead, loose coating": {"lead": "50 cm", "coating": "loose"},
    "heated in the string, no coating": {"coating": "none", "adapter": "checked", "heater": "in-string"},
    "another yoke": {"horizontal_yoke": "12 mH", "vertical_yoke": "40 mH"},
}
"""Invented rigs; each is tried with every tube of the list below that the chassis may feed."""
_RIG_TUBES = ("21EP4A", "AW43-80")


@dataclass(frozen=True)
class Change:
    """What is another without a rule, and where."""

    rule: str
    receiver: str
    rig: str
    opening: tuple[str, ...]
    """What was said, in the words of a session file."""
    beside: str
    """What was said beside the rule's own signs, or ""."""
    what: str
    """``order`` of the stages, or ``next test``."""


def openings_of(
    shape: RuleShape, shapes: Sequence[RuleShape], workbench: Workbench, traits: Mapping[str, str]
) -> Iterator[tuple[Entry, ...]]:
    """Give openings in which a rule could matter on a bench, few things said first.

    A rule that concludes a condition is followed to the findings that rest on it, or wait for its absence.

    Args:
        shape: the rule.
        shapes: all rules.
        workbench: the bench.
        traits: what receiver and rig say of themselves; an opening that needs another is left out.
    """
    given: set[tuple[Entry, ...]] = set()
    traced = sum(c.one_of[0].kind == Traced.__name__ for c in shape.clauses)
    for way in _ways(shape, shapes):
        is_open = ANY in {v for s in way for _, v in s.fields}
        for stages in combinations(workbench.chassis.stages, max(traced, 1)) if is_open else (("",),):
            entries = _typed(way, stages, workbench, traits)
            if entries is not None and entries not in given:
                given.add(entries)
                yield entries


def _ways(shape: RuleShape, shapes: Sequence[RuleShape]) -> Iterator[frozenset[Statement]]:
    yield from ways_to_fire(shape, shapes)
    if shape.concludes.kind != Condition.__name__:
        return
    alone = [s for s in shapes if s is shape or s.concludes != shape.concludes]
    own = ways_to_fire(shape, shapes)[:4]
    for reader in alone:
        if reader.concludes.kind != Finding.__name__ and not reader.needs:
            continue
        if any(shape.concludes in c.one_of for c in reader.clauses if c.negated):
            yield from (mine | its for mine in own for its in ways_to_fire(reader, shapes)[:8])
        elif _rests_on(reader, shape, alone):
            yield from ways_to_fire(reader, alone)[:8]


def _rests_on(reader: RuleShape, shape: RuleShape, shapes: Sequence[RuleShape]) -> bool:
    """Tell whether a rule reads what another concludes, through any number of steps."""
    queue, seen = [reader], {reader.name}
    while queue:
        at = queue.pop()
        if shape.concludes.get("name") in at.needs:
            return True
        makers = [s for s in shapes if s.concludes.kind == Condition.__name__ and s.name not in seen]
        fresh = [s for s in makers if s.concludes.get("name") in at.needs]
        seen |= {s.name for s in fresh}
        queue += fresh
    return False


def _typed(
    way: Iterable[Statement], stages: Sequence[str], workbench: Workbench, traits: Mapping[str, str]
) -> tuple[Entry, ...] | None:
    """Return what a person would type for some facts, or None where nobody could on this bench."""
    library, typed = workbench.library, list(_SAID)
    for fact in sorted(way):
        fields = dict(fact.fields)
        if fact.kind == Symptom.__name__:
            if fields["name"] in workbench.bench.rig_explains:
                return None
            typed.append(Entry("symptom", fields["name"]))
        elif fact.kind == Answer.__name__:
            if fields["measurement"] not in workbench.faults.offers:
                return None
            typed.append(Entry("answer", fields["measurement"], fields["outcome"]))
        elif fact.kind == Traced.__name__:
            places = stages if fields["stage"] == ANY else (fields["stage"],)
            if not set(places) <= set(workbench.chassis.stages):
                return None
            typed += [Entry("trace", f"{place}.{fields['port']}", fields["state"]) for place in places]
        elif fact.kind == Trait.__name__:
            name, value = fields["name"], fields["value"]
            if name in library.opening or name == "condition":
                typed.append(Entry("circumstance", name, value))
            elif name in _OPENED:
                typed.append(Entry("answer", _OPENED[name], "same"))
            elif traits.get(name) != value:
                return None
    keys = [(e.kind, e.key) for e in typed]
    return tuple(typed) if len(set(keys)) == len(set(typed)) else None


class Trial:
    """One bench on which rules are taken away, one after the other."""

    def __init__(self, workbench: Workbench, traits: Mapping[str, str]) -> None:
        """Take the bench, and what receiver and rig say of themselves."""
        self.workbench = workbench
        self.traits = traits
        self._interview = Interview(workbench)
        self._known: dict[tuple[Entry, ...], Assessment] = {}

    def change(
        self,
        shape: RuleShape,
        shapes: Sequence[RuleShape],
        built: Inference | None = None,
        company: Sequence[Entry] = (),
        most: int = 150,
    ) -> Change | None:
        """Return an opening on this bench in which order or next test is another without a rule, or None.

        Args:
            shape: the rule.
            shapes: all rules.
            built: the rule base built without it; needed where other rules wait for what it denies them.
            company: what to say beside the rule's own; without any, the rule's own are tried by themselves.
            most: so many openings of its own conditions are tried.
        """
        openings = islice(openings_of(shape, shapes, self.workbench, self.traits), most)
        tried = [e for e in openings if self._fires(shape.name, e)][:40]
        if company:
            beside = ((e, s) for e, s in _beside(tried[:4], company) if self._fires(shape.name, e))
            return self._first(shape, built, beside, _order if company[0].kind == "symptom" else self._next)
        alone = [(entries, "") for entries in tried]
        return self._first(shape, built, alone, _order) or self._first(shape, built, alone[:4], self._next)

    def still(self, change: Change, built: Inference | None = None) -> bool:
        """Tell whether order or next test is another without a rule in an opening that was found before."""
        entries = tuple(_read(line) for line in change.opening)
        seen = _order if change.what == "order" else self._next
        if not self._fires(change.rule, entries):
            return False
        assessment = self._assessed(entries)
        return seen(assessment) != seen(self._poorer(assessment, change.rule, built))

    def fired(self, opening: Sequence[str]) -> frozenset[tuple[str, Statement]]:
        """Return the rules and rows that speak for or against a stage in an opening, each with what it says."""
        found = self._assessed(tuple(_read(line) for line in opening)).conclusion
        return frozenset((d.rule, d.concluded) for d in found.findings)

    def company(self, shape: RuleShape, shapes: Sequence[RuleShape]) -> tuple[list[Entry], ...]:
        """Return what may be said beside: what happened last, signs of the same fault, and of a second one."""
        entries = next(openings_of(shape, shapes, self.workbench, self.traits), ())
        shown, library = self._shown_with(entries), self.workbench.library
        signs = [Entry("symptom", name) for name in library.symptoms if name not in _DANGERS]
        events = [Entry("circumstance", "last-event", name) for name in library.opening["last-event"].options]
        return events, [s for s in signs if s.key in shown], [s for s in signs if s.key not in shown]

    def _shown_with(self, entries: Iterable[Entry]) -> frozenset[str]:
        """Return the symptoms that some single fault of this set shows together with one of those said."""
        names, table = self.workbench.faults.symptom_table()
        said = [n for n, name in enumerate(names) if Entry("symptom", name) in set(entries)]
        often = (table > 0.2).astype(float)
        together = often @ often[said].sum(axis=0)
        return frozenset(name for name, count in zip(names, together, strict=True) if count > 0)

    def _first(
        self,
        shape: RuleShape,
        built: Inference | None,
        openings: Iterable[tuple[tuple[Entry, ...], str]],
        seen: Callable[[Assessment], object],
    ) -> Change | None:
        for entries, beside in openings:
            assessment = self._assessed(entries)
            if seen(assessment) != seen(self._poorer(assessment, shape.name, built)):
                said = tuple(" ".join(filter(None, (e.kind, e.key, e.value))) for e in entries)
                what = "order" if seen is _order else "next test"
                bench = self.workbench
                return Change(shape.name, bench.chassis.name, bench.bench.rig, said, beside, what)
        return None

    def _assessed(self, entries: tuple[Entry, ...]) -> Assessment:
        if entries not in self._known:
            self._known[entries] = assess(self.workbench, entries)
        return self._known[entries]

    def _fires(self, rule: str, entries: tuple[Entry, ...]) -> bool:
        """Tell whether a rule fires in an opening in which nothing contradicts another."""
        assessment = self._assessed(entries)
        return not assessment.clashes and fires(rule, assessment.conclusion)

    def _poorer(self, assessment: Assessment, rule: str, built: Inference | None) -> Assessment:
        """Return where the same diagnosis would stand without a rule."""
        bench = self.workbench
        if built is not None:
            return assess(_with_rules(bench, built), assessment.entries)
        conclusion = left_without(assessment.conclusion, rule)
        findings = weigh_findings(conclusion, bench.library.strengths)
        stages = [h.stage for h in bench.faults.hypotheses]
        ranking = rank(assessment.prior, stages, findings, assessment.evidence)
        return replace(assessment, ranking=ranking, conclusion=conclusion)

    def _next(self, assessment: Assessment) -> object:
        step = next_step(self._interview.problem, self._interview.position(assessment))
        return step.kind, step.key


def trial_of(workbench: Workbench) -> Trial:
    """Return a trial on the set's own tube or on the rig of the bench."""
    facts = chassis_facts(workbench.library, workbench.chassis)
    traits = {f["name"]: f["value"] for f in facts if isinstance(f, Trait)}
    return Trial(workbench, {**traits, **dict(workbench.bench.rig_traits)})


def rig_trials(workbench: Workbench, only: Collection[str] = ()) -> Iterator[Trial]:
    """Give a trial on each invented rig, or ``only`` on those named, that will do on the receiver of a bench."""
    for tube in _RIG_TUBES:
        for kind, fields in _RIGS.items():
            name = f"{tube}, {kind}"
            if only and name not in only:
                continue
            report = rig_report(workbench.chassis, Rig.model_validate({"tube": tube, **fields}), workbench.library)
            if report.will_do:
                yield trial_of(_on_rig(workbench, name, report))


def _on_rig(workbench: Workbench, name: str, report: RigReport) -> Workbench:
    explains = {symptom: d.says for d in report.differences for symptom in d.explains}
    bench = replace(workbench.bench, rig=name, rig_traits=report.traits, rig_explains=explains)
    rules, faults = workbench.inference, workbench.faults
    return Workbench(workbench.library, workbench.chassis, bench, lambda: rules, lambda: faults)


def _order(assessment: Assessment) -> object:
    return [stage for stage, _ in assessment.ranking.stages]


def _with_rules(bench: Workbench, rules: Inference) -> Workbench:
    return Workbench(bench.library, bench.chassis, bench.bench, lambda: rules, lambda: bench.faults)


def _read(line: str) -> Entry:
    kind, key, *value = line.split(" ")
    return entry_from({"kind": kind, "key": key, "value": " ".join(value)})


def _beside(
    openings: Sequence[tuple[Entry, ...]], company: Sequence[Entry]
) -> Iterator[tuple[tuple[Entry, ...], str]]:
    for more in company:
        for entries in openings:
            if all((e.kind, e.key) != (more.kind, more.key) for e in entries):
                yield (*entries, more), more.key
