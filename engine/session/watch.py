# SPDX-License-Identifier: MIT
"""Lying in wait for a fault that comes and goes: what was done, when it happened, what that says.

Everything is in the entries of the session: ``watch`` entries for what was done (set switched on, tapped,
warmed, cooled, flexed, a dip of the mains), the changing circumstance ``moment`` for when the fault came and
went, and answers for what the meter that was left in place read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from backporch.engine.errors import BadInput
from backporch.engine.session.entry import Entry
from backporch.engine.session.questions import plain_words

__all__ = ["ACTS", "Happening", "happenings", "said_by_log", "speaks_for", "watched"]

ACTS = {
    "on": "switched on",
    "tap": "tapped",
    "warm": "warmed",
    "cool": "cooled",
    "flex": "flexed",
    "dip": "mains dipped",
}
"""What may be done while waiting, with the word for it."""

_SAME = {
    "tapped": "tap",
    "knock": "tap",
    "hit": "tap",
    "warmed": "warm",
    "heat": "warm",
    "cooled": "cool",
    "spray": "cool",
    "freeze": "cool",
    "flexed": "flex",
    "bend": "flex",
    "press": "flex",
    "mains": "dip",
    "dipped": "dip",
    "switched": "on",
}
_SOON_S = 60.0
"""Within this time what was done may have brought it on; our judgement."""
_SPEAKS = {"tap": "changes-when-tapped", "flex": "changes-when-tapped", "dip": "varies-with-mains"}
_COMES_WITH = {"warm": "worse-when-warm", "cool": "better-when-warm"}
_GOES_WITH = {"warm": "better-when-warm", "cool": "worse-when-warm"}


@dataclass(frozen=True)
class Happening:
    """One time that the fault came or went."""

    came: bool
    minutes_on: float | None
    """Minutes since the set was switched on; None where nobody said when that was."""
    after: str
    """What was done within a minute before, or ""."""
    where: str


def watched(text: str) -> Entry:
    """Return the entry for something done while waiting.

    Args:
        text: One of the words of ``ACTS``, with where or, for "on", how many minutes ago behind it.
    Raises:
        BadInput: it is none of them.

    Example:
        >>> watched("tap V5"), watched("on 12").value
        (Entry(kind='watch', key='tap', value='V5', at=''), '12')
    """
    words = plain_words(text).split()
    act = _SAME.get(words[0], words[0]) if words else ""
    if act not in ACTS:
        raise BadInput(f"While waiting write what you did: {', '.join(ACTS)}, each with where; ! when it happens.")
    rest = " ".join(text.split()[1:]).removeprefix("on ").strip()
    if act == "on":
        rest = rest.lower().removesuffix("ago").strip().removesuffix("minutes").removesuffix("min").strip()
        try:
            minutes = float(rest or 0)
        except ValueError:
            minutes = -1.0
        if not 0 <= minutes <= 10_000:
            raise BadInput(f"{text.strip()[:40]!r}: write how many minutes ago it was switched on: on 12.")
    return Entry("watch", act, rest)


def happenings(entries: Sequence[Entry]) -> Iterator[Happening]:
    """Give each time the fault came or went, with how long the set was on and what had been done."""
    on: float | None = None
    act: Entry | None = None
    before = ""
    for entry in entries:
        now = _seconds(entry.at)
        if entry.kind == "watch" and entry.key == "on":
            on = now - 60.0 * float(entry.value or 0) if now is not None else None
        elif entry.kind == "watch":
            act = entry
        elif entry.kind == "circumstance" and entry.key == "moment" and entry.value != before:
            recent = act is not None and _within(act.at, entry.at)
            minutes = max((now - on) / 60.0, 0.0) if now is not None and on is not None else None
            if before or entry.value == "happening":
                after, where = (act.key, act.value) if recent and act is not None else ("", "")
                yield Happening(entry.value == "happening", minutes, after, where)
            before = entry.value


def said_by_log(entries: Sequence[Entry]) -> tuple[str, ...]:
    """Return in sentences what the log says so far."""
    came = [h for h in happenings(entries) if h.came]
    if not came:
        done = [e for e in entries if e.kind == "watch" and e.key != "on"]
        tried = ", ".join(dict.fromkeys(f"{ACTS[e.key]} {e.value}".strip() for e in done if e.key in ACTS))
        return (f"It has not happened yet. Done so far: {tried or 'nothing'}.",)
    times = len(came)
    lines = [f"It happened {_times(times)}{_when(came)}."]
    for act in dict.fromkeys(h.after for h in came if h.after):
        those = [h for h in came if h.after == act]
        places = ", ".join(dict.fromkeys(h.where for h in those if h.where))
        where = f" ({places})" if places else ""
        share = "Each time" if len(those) == times else f"{_times(len(those)).capitalize()} of {times}"
        lines.append(f"{share} within a minute after it was {ACTS[act]}{where}.")
    alone = sum(not h.after for h in came)
    if alone and alone < times:
        lines.append(f"{_times(alone).capitalize()} by itself.")
    return tuple(lines)


def speaks_for(entries: Sequence[Entry]) -> tuple[str, ...]:
    """Return the symptoms that the last coming or going of the fault shows and that were not named yet."""
    last = next(reversed(list(happenings(entries))), None)
    if last is None or not last.after:
        return ()
    symptom = {**_SPEAKS, **(_COMES_WITH if last.came else _GOES_WITH)}.get(last.after, "")
    named = {e.key for e in entries if e.kind == "symptom"}
    return (symptom,) if symptom and symptom not in named else ()


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _when(came: Sequence[Happening]) -> str:
    known = [f"{h.minutes_on:.0f}" for h in came if h.minutes_on is not None]
    return f", {' and '.join(known)} min after switch-on" if known else ""


def _seconds(at: str) -> float | None:
    try:
        return datetime.fromisoformat(at).timestamp() if at else None
    except (ValueError, OverflowError, OSError):
        return None


def _within(first: str, then: str) -> bool:
    a, b = _seconds(first), _seconds(then)
    return a is not None and b is not None and 0.0 <= b - a <= _SOON_S
