# SPDX-License-Identifier: MIT
"""Whether one registered tube type may stand in for another, and the reasons why not.

Knows base, heater, kind, pins and amplification of the types in kb/tubes.yaml and the pairs in
kb/tube_refusals.yaml. It refuses what it does not know: a type without an entry has to be looked up first.
"""

from __future__ import annotations

from collections.abc import Iterable

from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import TubeType
from backporch.engine.units import parse, show

__all__ = ["heater_ratings", "stand_in_refusals"]

_HEATER_TOLERANCE = 0.06
_GAIN_RATIO = 1.5


def heater_ratings(tube: TubeType) -> tuple[tuple[float, float], ...]:
    """Return the ways in which the heater may be wired, each as volts and amperes.

    Example:
        >>> from backporch.engine.knowledge.library import shipped
        >>> heater_ratings(shipped().tubes["12AU7"])
        ((12.6, 0.15), (6.3, 0.3))
    """
    if tube.heater_v is None or tube.heater_a is None:
        return ()
    whole = (tube.heater_v, tube.heater_a)
    return (whole, (tube.heater_v / 2, tube.heater_a * 2)) if tube.tapped else (whole,)


def stand_in_refusals(old: str, new: str, library: Library, *, series_string: bool) -> tuple[str, ...]:
    """Return why ``new`` must not be put into the socket of ``old``; empty where nothing speaks against it.

    Args:
        old: The registered type that the set was built with.
        new: The type at hand.
        library: The knowledge base.
        series_string: Whether the heaters of the set are wired in series.

    Example:
        >>> from backporch.engine.knowledge.library import shipped
        >>> stand_in_refusals("6CG7", "6FQ7", shipped(), series_string=False)
        ()
        >>> stand_in_refusals("EF80", "EF85", shipped(), series_string=True)[0]
        'EF85 for EF80: one cuts off sharply and the other does not: AGC and clipping go wrong.'
    """
    if old == new:
        return ()
    tubes = library.tubes
    unknown = [name for name in (old, new) if name not in tubes]
    if unknown:
        return tuple(f"{name} is not known here; compare both types in a tube manual first." for name in unknown)
    listed = list(_listed(old, new, library))
    return tuple(listed or _differences(old, new, tubes[old], tubes[new], series_string))


def _listed(old: str, new: str, library: Library) -> Iterable[str]:
    for entry in library.tube_refusals.values():
        one_way = "not the other way round" in entry.because
        if (entry.tube, entry.by) == (old, new) or (not one_way and (entry.by, entry.tube) == (old, new)):
            yield f"{new} for {old}: {entry.because}."


def _differences(old: str, new: str, was: TubeType, now: TubeType, series_string: bool) -> Iterable[str]:
    if was.base != now.base:
        yield f"{new} has another base ({now.base}) than {old} ({was.base})."
        return
    if was.does != now.does:
        yield f"{new} is a {now.does}, {old} a {was.does}."
    if was.pins and now.pins and was.pins != now.pins:
        yield f"{new} has the same base as {old} and other pins: electrodes meet the wrong voltages."
    yield from _heater(old, new, was, now, series_string)
    yield from _gain(old, new, was, now)


def _heater(old: str, new: str, was: TubeType, now: TubeType, series_string: bool) -> Iterable[str]:
    ways, have = heater_ratings(was), heater_ratings(now)
    if not ways or not have:
        yield f"The heater of {old} or {new} is not known here; look both up before the exchange."
        return
    which, unit = (1, "A") if series_string else (0, "V")
    if not any(abs(mine[which] / theirs[which] - 1) < _HEATER_TOLERANCE for mine in have for theirs in ways):
        where = "in the series string" if series_string else "on the heater winding"
        yield (
            f"The heater of {new} is rated {show(have[0][which], unit)} and that of {old} "
            f"{show(ways[0][which], unit)}, which does not suit {where}."
        )
    elif series_string and abs(have[0][0] / ways[0][0] - 1) > _HEATER_TOLERANCE and not (was.tapped or now.tapped):
        yield (
            f"The heater of {new} drops {show(have[0][0], 'V')} and that of {old} {show(ways[0][0], 'V')}: "
            "every other heater of the string gets another current."
        )


def _gain(old: str, new: str, was: TubeType, now: TubeType) -> Iterable[str]:
    first, second = _amplification(was), _amplification(now)
    if first and second and first[1] == second[1] and not 1 / _GAIN_RATIO < second[0] / first[0] < _GAIN_RATIO:
        yield f"{new} ({now.gain}) amplifies very differently from {old} ({was.gain}): bias and gain go wrong."


def _amplification(tube: TubeType) -> tuple[float, str] | None:
    if not tube.gain:
        return None
    if tube.gain.startswith("mu "):
        return parse(tube.gain[3:], ""), "mu"
    return parse(tube.gain.split()[0], ""), "mA/V"
