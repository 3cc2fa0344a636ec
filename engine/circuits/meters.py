# SPDX-License-Identifier: MIT
"""What a meter or probe shows of a point, and what it does to the point.

Limits: the point is a source with a resistance; a point that a meter stops from working, such as the grid of an
oscillator, is not.
Caution: a computed reading is no leave to measure there.  Points such as the plate of the horizontal output tube,
the vertical output plate, focus bleeder and tie pins, and a boosted rail above the meter's rating, destroy
instruments and hurt people; a metal cone carries the anode voltage.
Sources: loading-note, digital-meter-manual, probe-note (keys in kb/sources/meters.yaml); Ohm's law.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.errors import BadInput, OutOfRange

__all__ = [
    "DIGITAL_10_M",
    "ELECTRONIC_11_M",
    "NEEDLE_1_K",
    "NEEDLE_20_K",
    "Meter",
    "Reading",
    "Source",
    "loaded_v",
    "meter_ohm",
    "range_v",
    "reading",
    "two_ranges",
    "unloaded_v",
]


@dataclass(frozen=True)
class Meter:
    """A voltmeter: either so many ohms for each volt of its range, or one input resistance on all ranges."""

    name: str
    ranges_v: tuple[float, ...]
    """Full scales, rising."""
    max_v: float
    """Rating between its terminals, ripple and pulses included."""
    accuracy_share: float
    """Of full scale, or of the reading where ``digital``."""
    ohms_per_volt: float = 0.0
    input_ohm: float = 0.0
    digital: bool = False

    def __post_init__(self) -> None:
        """Refuse a meter that makes no sense."""
        if (self.ohms_per_volt > 0.0) == (self.input_ohm > 0.0):
            raise BadInput(f"Meter {self.name!r} needs either ohms_per_volt or input_ohm above zero, not both.")
        if not self.ranges_v or list(self.ranges_v) != sorted(set(self.ranges_v)) or self.ranges_v[0] <= 0.0:
            raise BadInput(
                f"Meter {self.name!r} has ranges {self.ranges_v}; expected full scales that rise from zero."
            )


NEEDLE_1_K = Meter("needle meter, 1 k per volt", (10.0, 50.0, 250.0, 500.0), 500.0, 0.04, ohms_per_volt=1e3)
NEEDLE_20_K = Meter(
    "needle meter, 20 k per volt", (2.5, 10.0, 50.0, 250.0, 1000.0), 1000.0, 0.03, ohms_per_volt=20e3
)
ELECTRONIC_11_M = Meter(
    "electronic voltmeter, 11 M", (1.5, 5.0, 15.0, 50.0, 150.0, 500.0, 1500.0), 1000.0, 0.03, input_ohm=11e6
)
DIGITAL_10_M = Meter(
    "digital multimeter, 10 M", (2.0, 20.0, 200.0, 1000.0), 1000.0, 0.01, input_ohm=10e6, digital=True
)


@dataclass(frozen=True)
class Reading:
    """What a meter shows."""

    range_v: Number
    meter_ohm: Number
    """Its resistance on that range."""
    shown_v: Number
    error_v: Number
    """How far the meter itself may be off, either way; loading is no part of it."""
    beyond_rating: bool | NDArray[np.bool_]
    """True where the voltage exceeds the meter's rating or its highest range: do not connect it."""


@dataclass(frozen=True)
class Source:
    """A point as a voltage behind a resistance."""

    true_v: Number
    source_ohm: Number


@formula("ohms_per_volt * range_v, or input_ohm")
def meter_ohm(meter: Meter, range_v: Number) -> Number:
    r"""Return the resistance of a meter on a range.

    .. math:: R_m = k\, V_{fs} \quad \text{or} \quad R_m = R_{in}

    Args:
        meter: The meter.
        range_v: Full scale [V], > 0.
    Returns:
        Resistance [ohm], float or array.
    Raises:
        OutOfRange: The range is not positive.
    Source: loading-note.
    Example: 20 k per volt on 250 V.
        >>> meter_ohm(NEEDLE_20_K, 250.0)
        5000000.0
    """
    (scale,) = positive(range_v=range_v)
    return plain(meter.ohms_per_volt * scale + meter.input_ohm)


@formula("the lowest range that holds abs(true_v), the highest where none does")
def range_v(true_v: Number, meter: Meter) -> Number:
    r"""Return the range on which a voltage is measured: the lowest that holds it before it is loaded.

    One starts on the highest range and goes down; a lower range than this would load a weak point more and
    could be driven off its scale when the point recovers.

    Args:
        true_v: Voltage with no meter there [V], either sign.
        meter: The meter.
    Returns:
        Full scale [V], float or array.
    Raises:
        OutOfRange: The voltage is not finite.
    Source: common practice, no source.
    Example: 100 V and 40 V on a needle meter.
        >>> range_v(100.0, NEEDLE_20_K), range_v(-40.0, NEEDLE_20_K)
        (250.0, 50.0)
    """
    (volts,) = any_sign(true_v=true_v)
    scales = np.array(meter.ranges_v)
    place = np.searchsorted(scales, np.abs(volts) * (1.0 - 1e-12))
    return plain(scales[np.minimum(place, scales.size - 1)])


@formula("true_v * meter_ohm / (meter_ohm + source_ohm)")
def loaded_v(true_v: Number, source_ohm: Number, meter_ohm: Number) -> Number:
    r"""Return what is left of a voltage when a meter loads it.

    .. math:: V_r = V \frac{R_m}{R_m + R_s}

    Args:
        true_v: Voltage with no meter there [V], either sign.
        source_ohm: Resistance of the point [ohm], >= 0.
        meter_ohm: Resistance of the meter on its range [ohm], > 0.
    Returns:
        Voltage [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: loading-note; Ohm's law.
    Example: 100 V behind 1 M: 1 k and 20 k per volt on 250 V, 11 M and 10 M, worked by hand.
        >>> [round(loaded_v(100.0, 1e6, ohm), 1) for ohm in (250e3, 5e6, 11e6, 10e6)]
        [20.0, 83.3, 91.7, 90.9]
    """
    (volts,) = any_sign(true_v=true_v)
    (source,) = not_negative(source_ohm=source_ohm)
    (meter,) = positive(meter_ohm=meter_ohm)
    return plain(volts * meter / (meter + source))


@formula("shown_v * (meter_ohm + source_ohm) / meter_ohm")
def unloaded_v(shown_v: Number, source_ohm: Number, meter_ohm: Number) -> Number:
    r"""Return the voltage behind a reading whose source resistance is known.

    .. math:: V = V_r \frac{R_m + R_s}{R_m}

    Args:
        shown_v: Reading [V], either sign.
        source_ohm: Resistance of the point [ohm], >= 0.
        meter_ohm: Resistance of the meter on its range [ohm], > 0.
    Returns:
        Voltage with no meter there [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: loading-note; Ohm's law.
    Example: -38.2 V behind 470 k on 10 M, worked by hand.
        >>> round(unloaded_v(-38.2, 470e3, 10e6), 1)
        -40.0
    """
    (volts,) = any_sign(shown_v=shown_v)
    (source,) = not_negative(source_ohm=source_ohm)
    (meter,) = positive(meter_ohm=meter_ohm)
    return plain(volts * (meter + source) / meter)


@formula("true_v * meter_ohm / (meter_ohm + source_ohm), meter_ohm on the lowest range that holds true_v")
def reading(true_v: Number, source_ohm: Number, meter: Meter, on_range_v: Number | None = None) -> Reading:
    r"""Return what a meter shows of a point, on which range, and how far it may be off.

    .. math:: V_r = V \frac{R_m}{R_m + R_s}

    Args:
        true_v: Voltage with no meter there [V], either sign.
        source_ohm: Resistance of the point [ohm], >= 0.
        meter: The meter.
        on_range_v: Range that is set; left out, that of :func:`range_v` [V], > 0.
    Returns:
        :class:`Reading`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: loading-note; Ohm's law.
    Example: -40 V through 470 k on a digital meter and on a needle meter, worked by hand.
        >>> round(reading(-40.0, 470e3, DIGITAL_10_M).shown_v, 1)
        -38.2
        >>> found = reading(-40.0, 470e3, NEEDLE_20_K)
        >>> found.range_v, round(found.shown_v, 1), found.error_v
        (50.0, -27.2, 1.5)
    """
    scale = range_v(true_v, meter) if on_range_v is None else on_range_v
    ohm = meter_ohm(meter, scale)
    shown = loaded_v(true_v, source_ohm, ohm)
    error = meter.accuracy_share * (np.abs(shown) if meter.digital else scale + 0.0 * np.asarray(shown))
    beyond = np.abs(np.asarray(true_v)) > min(meter.max_v, meter.ranges_v[-1])
    return Reading(scale, ohm, shown, plain(error), bool(beyond) if beyond.ndim == 0 else beyond)


@formula(
    "source_ohm = first_ohm * second_ohm * (first_v - second_v) / (second_v * first_ohm - first_v * second_ohm),"
    " true_v = first_v * (first_ohm + source_ohm) / first_ohm"
)
def two_ranges(first_v: Number, first_ohm: Number, second_v: Number, second_ohm: Number) -> Source:
    r"""Return voltage and resistance of a point from two readings with different loads.

    .. math:: R_s = \frac{R_1 R_2 (V_1 - V_2)}{V_2 R_1 - V_1 R_2}, \quad V = V_1 \frac{R_1 + R_s}{R_1}

    Args:
        first_v: Reading on the range that loads less [V], either sign, not 0.
        first_ohm: Meter on that range [ohm], > 0.
        second_v: Reading on the range that loads more [V], same sign.
        second_ohm: Meter on that range [ohm], > 0, not first_ohm.
    Returns:
        :class:`Source`, its fields floats or arrays.
    Raises:
        OutOfRange: The two readings cannot come from one source; the point works differently when loaded, or the
            readings differ by no more than the meter's error.
    Valid: readings that differ by several times the error of the meter.
    Source: two-range-note for the idea; derived here.
    Example: 83.33 V on 5 M and 50 V on 1 M, worked by hand.
        >>> found = two_ranges(83.3333333, 5e6, 50.0, 1e6)
        >>> round(found.source_ohm), round(found.true_v, 1)
        (1000000, 100.0)
    """
    one, two = any_sign(first_v=first_v, second_v=second_v)
    first, second = positive(first_ohm=first_ohm, second_ohm=second_ohm)
    slope = (two / second - one / first) * np.sign(one)
    fall = (one - two) * np.sign(one)
    if np.any(slope <= 0.0) or np.any(fall < 0.0):
        raise OutOfRange(
            f"second_v is {float(np.ravel(two)[0]):g} beside first_v {float(np.ravel(one)[0]):g}; expected two"
            " readings of one point, the one with the lower resistance the lower.  Measure both again."
        )
    source = fall / slope
    return Source(plain(one * (first + source) / first), plain(source))
