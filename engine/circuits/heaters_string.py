# SPDX-License-Identifier: MIT
"""The series heater string: one current through dropper, thermistor and heaters, and what its faults do to it.

Heaters stand in wiring order, the first at the mains end, the last at the chassis return.  Faults are values: an
open heater has 1e9 ohm in series, a heater-cathode short a few ohms from the mains end of that heater to the
return; what lies towards the mains is then over-run and what lies beyond is dark.
Limits: the settled state and the first instant; nothing between.  A short inside a heater is taken at its mains
end.
Caution: with one heater open the mains stands on every pin on the mains side of it; a string is never run with a
tube out.  On a mains-connected chassis every node is live to earth.
Sources: darr-1958, thermistor-note (keys in kb/sources/heaters.yaml); Ohm's law.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.heaters import Lamp, Thermistor, heater_ohm, lamp_ohm, thermistor_ohm
from backporch.engine.errors import BadInput

__all__ = ["Heater", "StringFeed", "StringState", "cold_inrush_a", "heater_string", "open_heater_reading_v"]

_ROUNDS = 32


@dataclass(frozen=True)
class Heater:
    """One heater; every field may be a float or an array."""

    rated_v: Number
    rated_a: Number
    series_ohm: Number = 0.0
    """Bad contact; 1e9 for an open heater or an empty socket."""
    shunt_ohm: Number = 1e12
    """Resistor across a heater of less current than the string's."""
    cathode_ohm: Number = 1e12
    """From its mains end to the return, cathode circuit included; a few ohms for a heater-cathode short."""


@dataclass(frozen=True)
class StringFeed:
    """What lies between the mains and the first heater, and between the last one and the return."""

    dropper_ohm: Number = 0.0
    """Dropper and contacts at the mains end."""
    return_ohm: Number = 0.0
    """Contacts at the chassis end."""
    thermistor: Thermistor | None = None
    lamp: Lamp | None = None
    """A lamp in series as a limiter, or a pilot lamp."""
    half_wave: bool = False
    """A diode in place of a dropper: the string gets the RMS of half-waves."""


@dataclass(frozen=True)
class StringState:
    """The settled string.  Rows stand for heaters in wiring order; voltages and currents are RMS."""

    current_a: Number
    """Current from the mains."""
    heater_a: Array
    heater_v: Array
    heat_share: Array
    """Power of each heater over its rated power."""
    node_v: Array
    """From the mains end of each heater to the chassis return, with no meter there."""
    node_source_ohm: Array
    """What a meter at that node sees; its reading is node_v times its ohms over the sum of both."""
    dropper_v: Number
    dropper_w: Number
    thermistor_v: Number
    lamp_v: Number
    after_lamp_v: Number
    """What a limiter lamp leaves for the string: readings taken with it tell of shorts and of nothing else."""


@dataclass(frozen=True)
class _Ladder:
    flowing: Array
    through: Array
    nodes: Array
    beyond: Array


@formula(
    "supply_v = current * (dropper_ohm + thermistor + lamp + the heaters in series, with cathode_ohm from the node"
    " of each to the return); each heater_ohm at its own current"
)
def heater_string(supply_v: Number, heaters: Sequence[Heater], feed: StringFeed) -> StringState:
    r"""Return currents and voltages of a series string once it is hot.

    .. math:: V = I (R_d + R_t(I) + R_l(I)) + \sum_k I_k R_k(I_k), \quad I_{k+1} = I_k - V_{k+1}/R_{hk,k+1}

    Args:
        supply_v: RMS mains at the string's feed [V], >= 0.
        heaters: In wiring order from the mains end.
        feed: Dropper, thermistor, lamp, diode and contacts.
    Returns:
        :class:`StringState`.
    Raises:
        OutOfRange: A value is out of its bounds.
        BadInput: There is no heater.
    Valid: a switch-on from cold that gets hot; a few volts of a slowly raised supply may leave a thermistor cold.
    Source: Ohm's law; darr-1958 for string sets with doublers; heater and thermistor laws in heaters.
    Example: 50 V of 0.6 A heaters behind 111.7 ohm on 117 V; then the second of three open.
        >>> tubes = [Heater(25.0, 0.6), Heater(12.5, 0.6), Heater(12.5, 0.6)]
        >>> feed = StringFeed(dropper_ohm=67.0 / 0.6)
        >>> sound = heater_string(117.0, tubes, feed)
        >>> round(sound.current_a, 3), [round(float(v), 1) for v in sound.node_v]
        (0.6, [50.0, 25.0, 12.5])
        >>> tubes[1] = Heater(12.5, 0.6, series_ohm=1e9)
        >>> [round(float(v), 1) for v in heater_string(117.0, tubes, feed).node_v]
        [117.0, 117.0, 0.0]
    """
    (mains,) = not_negative(supply_v=supply_v)
    volts = mains / np.sqrt(2.0) if feed.half_wave else mains
    rows = _rows(heaters, volts, feed)
    currents, flowing = rows["rated_a"], rows["rated_a"][0]
    for _ in range(_ROUNDS):
        found = _ladder(rows, _hot(rows, currents), _feed_ohm(feed, flowing), volts)
        currents = np.sqrt(np.maximum(currents * _own(rows, currents, found.through), 1e-30))
        flowing = np.sqrt(np.maximum(flowing * found.flowing, 1e-30))
    return _state(rows, feed, volts, found, currents)


@formula("supply_v / (dropper_ohm + cold thermistor + cold lamp + cold heaters)")
def cold_inrush_a(supply_v: Number, heaters: Sequence[Heater], feed: StringFeed) -> Number:
    r"""Return the RMS current that would flow if the string stayed as cold as at switching on.

    .. math:: I = V / (R_d + R_{t,c} + R_{l,c} + \Sigma R_{k,c})

    The first peak is up to the square root of two times this.

    Args:
        supply_v: RMS mains [V], >= 0.
        heaters: In wiring order.
        feed: Dropper, thermistor, lamp, diode and contacts.
    Returns:
        RMS current [A], float or array.
    Raises:
        OutOfRange: A value is out of its bounds.
        BadInput: There is no heater.
    Source: Ohm's law with the cold values of heaters.
    Example: 158.3 V of 0.3 A heaters and 195 ohm on 230 V, without and with a thermistor, worked by hand.
        >>> tubes = [Heater(158.3, 0.3)]
        >>> round(cold_inrush_a(230.0, tubes, StringFeed(195.0)), 2)
        0.85
        >>> round(cold_inrush_a(230.0, tubes, StringFeed(195.0, thermistor=Thermistor())), 3)
        0.04
    """
    (mains,) = not_negative(supply_v=supply_v)
    volts = mains / np.sqrt(2.0) if feed.half_wave else mains
    rows = _rows(heaters, volts, feed)
    none = 0.0 * rows["rated_a"]
    return plain(_ladder(rows, _hot(rows, none), _feed_ohm(feed, none[0]), volts).flowing)


@formula("mains_v * meter_ohm / (meter_ohm + chain_ohm)")
def open_heater_reading_v(mains_v: Number, chain_ohm: Number, meter_ohm: Number) -> Number:
    r"""Return what an AC meter shows across the break of a string with one heater open.

    .. math:: V_r = V \frac{R_m}{R_m + R}

    Every other heater, and a break that is not the one under the meter, shows next to nothing.  Caution: the mains
    stands there; chassis and pins are live.  Continuity with the plug out tells as much.

    Args:
        mains_v: RMS mains [V], >= 0.
        chain_ohm: The rest of the string, cold, with dropper and thermistor [ohm], >= 0.
        meter_ohm: Input resistance of the meter on its range [ohm], > 0.
    Returns:
        Reading, RMS [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: Ohm's law.
    Example: a meter of 10 M and a chain of 110 ohm on 117 V, worked by hand.
        >>> round(open_heater_reading_v(117.0, 110.0, 10e6), 1)
        117.0
    """
    mains, chain = not_negative(mains_v=mains_v, chain_ohm=chain_ohm)
    (meter,) = positive(meter_ohm=meter_ohm)
    return plain(mains * meter / (meter + chain))


def _rows(heaters: Sequence[Heater], volts: Array, feed: StringFeed) -> dict[str, Array]:
    """Return the heaters' fields checked, one row for each heater, all of one shape."""
    if not heaters:
        raise BadInput("A heater string has no heaters; expected at least one.")
    ends = not_negative(dropper_ohm=feed.dropper_ohm, return_ohm=feed.return_ohm)
    found: dict[str, list[Array]] = {}
    for heater in heaters:
        checked = positive(rated_v=heater.rated_v, rated_a=heater.rated_a)
        checked += not_negative(series_ohm=heater.series_ohm)
        checked += positive(shunt_ohm=heater.shunt_ohm, cathode_ohm=heater.cathode_ohm)
        for name, value in zip(("rated_v", "rated_a", "series", "shunt", "cathode"), checked, strict=True):
            found.setdefault(name, []).append(value)
    shape = np.broadcast_shapes(
        volts.shape, *(e.shape for e in ends), *(v.shape for f in found.values() for v in f)
    )
    rows = {name: np.stack([np.broadcast_to(v, shape) for v in values]) for name, values in found.items()}
    return rows | {"end": np.broadcast_to(ends[1], shape)}


def _hot(rows: dict[str, Array], currents: Array) -> Array:
    """Return the resistance of the heaters themselves at their currents."""
    return np.asarray(heater_ohm(currents, rows["rated_v"], rows["rated_a"]))


def _own(rows: dict[str, Array], currents: Array, through: Array) -> Array:
    """Return the part of each place's current that its heater takes and its shunt does not."""
    return np.asarray(through * rows["shunt"] / (rows["shunt"] + _hot(rows, currents)))


def _parts_ohm(feed: StringFeed, flowing: Array) -> tuple[Array, Array]:
    """Return thermistor and lamp at the current that flows."""
    warm = thermistor_ohm(flowing, feed.thermistor) if feed.thermistor else 0.0 * flowing
    lamp = lamp_ohm(flowing, feed.lamp.rated_v, feed.lamp.rated_w) if feed.lamp else 0.0 * flowing
    return np.asarray(warm), np.asarray(lamp)


def _feed_ohm(feed: StringFeed, flowing: Array) -> Array:
    return np.asarray(feed.dropper_ohm + sum(_parts_ohm(feed, flowing)))


def _ladder(rows: dict[str, Array], hot: Array, feed_ohm: Array, volts: Array) -> _Ladder:
    """Return the currents and node voltages of the string with the resistances given."""
    places = rows["series"] + hot * rows["shunt"] / (hot + rows["shunt"])
    below, beyond = rows["end"] + 1e-6, []
    for place, cathode in zip(places[::-1], rows["cathode"][::-1], strict=True):
        beyond.append(below)
        below = 1.0 / (1.0 / (place + below) + 1.0 / cathode)
    flowing = volts / (feed_ohm + below)
    node, nodes, through = flowing * below, [], []
    for place, rest in zip(places, reversed(beyond), strict=True):
        nodes.append(node)
        through.append(node / (place + rest))
        node = through[-1] * rest
    return _Ladder(flowing, np.stack(through), np.stack(nodes), np.stack(beyond[::-1]))


def _source_ohm(rows: dict[str, Array], hot: Array, feed_ohm: Array, beyond: Array) -> Array:
    """Return the resistance that a meter sees at each node."""
    places = rows["series"] + hot * rows["shunt"] / (hot + rows["shunt"])
    above, seen = feed_ohm + 0.0 * beyond[0], []
    for place, rest, cathode in zip(places, beyond, rows["cathode"], strict=True):
        conductance = 1.0 / np.maximum(above, 1e-9) + 1.0 / cathode
        seen.append(1.0 / (conductance + 1.0 / (place + rest)))
        above = 1.0 / conductance + place
    return np.stack(seen)


def _state(rows: dict[str, Array], feed: StringFeed, volts: Array, found: _Ladder, currents: Array) -> StringState:
    hot = _hot(rows, currents)
    own = _own(rows, currents, found.through)
    warm, lamp = _parts_ohm(feed, found.flowing)
    source = _source_ohm(rows, hot, _feed_ohm(feed, found.flowing), found.beyond)
    share = own**2 * hot / (rows["rated_v"] * rows["rated_a"])
    drop, lamp_v = found.flowing * feed.dropper_ohm, found.flowing * lamp
    ends = (drop, drop * found.flowing, found.flowing * warm, lamp_v, volts - lamp_v)
    return StringState(
        plain(found.flowing), own, own * hot, share, found.nodes, source, *(plain(end) for end in ends)
    )
