# SPDX-License-Identifier: MIT
"""The four scanning standards in figures, and what a wrong rate or a ripple looks like on the screen.

All times are those of monochrome transmissions; 525 lines stand at 15,750 Hz and not at the rate of colour.
Where a document gives a band one figure inside it is taken, and the tests hold it to the band.
Limits: edges are without slope; the 405- and 819-line figures for the field are partly from memory, to verify,
and so are the equalizing and serration widths of 525 lines.
Sources: fcc-73-682, fcc-73-699-memory, analogue-levels-table, tektronix-1910, bt-470-6, system-a-e-constants,
ccir-field-order (keys in kb/sources/scanning.yaml).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from backporch.engine.circuits.arguments import Number, not_negative, plain, positive
from backporch.engine.circuits.field_timing import field_period_s, line_period_s
from backporch.engine.circuits.formula import formula
from backporch.engine.errors import OutOfRange, UnknownWord

__all__ = [
    "STANDARDS",
    "Standard",
    "active_line_s",
    "diagonal_bar_count",
    "field_period_s",
    "half_line_s",
    "hum_bar_count",
    "hum_bar_drift_hz",
    "line_period_s",
    "lines_per_field",
    "plain_source",
    "standard",
]


@dataclass(frozen=True)
class Standard:
    """A scanning standard: counts, times in seconds, levels as shares of the way from sync tip to white."""

    name: str
    lines: int
    """Lines in a frame of two fields."""
    line_hz: float
    line_sync_s: float
    line_blanking_s: float
    front_porch_s: float
    """From the end of the picture to the line sync."""
    equalizing_s: float
    equalizing_count: int
    """Equalizing pulses in front of the field sync, and as many behind it; 0 for none."""
    broad_s: float
    broad_count: int
    field_blanking_s: float
    field_lead_s: float
    """From the start of the field blanking to the first broad pulse."""
    modulation: Literal["negative", "positive"]
    """Negative: the sync tips are the most carrier."""
    blanking_level: float
    black_level: float
    sync_carrier: float
    """Carrier at the sync tips, of its greatest value; likewise the next two."""
    blanking_carrier: float
    white_carrier: float

    @property
    def field_hz(self) -> float:
        """Fields a second."""
        return 2.0 * self.line_hz / self.lines

    @property
    def line_s(self) -> float:
        """Time of one line."""
        return 1.0 / self.line_hz

    @property
    def half_line_s(self) -> float:
        """Time of half a line, the pitch of the pulses of the field sync."""
        return 0.5 / self.line_hz

    @property
    def field_s(self) -> float:
        """Time of one field."""
        return 0.5 * self.lines / self.line_hz

    @property
    def serration_s(self) -> float:
        """Gap between two broad pulses; 0 where there is only one."""
        return self.half_line_s - self.broad_s if self.broad_count > 1 else 0.0

    @property
    def active_line_s(self) -> float:
        """Time of a line that carries picture."""
        return self.line_s - self.line_blanking_s

    @property
    def sync_to_picture_s(self) -> float:
        """From the leading edge of the line sync to the picture."""
        return self.line_blanking_s - self.front_porch_s


_LINE_525 = 1.0 / 15750.0
_LINE_625 = 1.0 / 15625.0
_LINE_405 = 1.0 / 10125.0
_LINE_819 = 1.0 / 20475.0

_ALL = (
    Standard(
        name="525/60",
        lines=525,
        line_hz=15750.0,
        line_sync_s=0.075 * _LINE_525,
        line_blanking_s=11.1e-6,
        front_porch_s=1.5e-6,
        equalizing_s=0.04 * _LINE_525,
        equalizing_count=6,
        broad_s=(0.5 - 0.07) * _LINE_525,
        broad_count=6,
        field_blanking_s=21.0 * _LINE_525,
        field_lead_s=3.0 * _LINE_525 + 1.5e-6,
        modulation="negative",
        blanking_level=(1.0 - 0.75) / (1.0 - 0.125),
        black_level=(1.0 - 0.75 + 0.075 * (0.75 - 0.125)) / (1.0 - 0.125),
        sync_carrier=1.0,
        blanking_carrier=0.75,
        white_carrier=0.125,
    ),
    Standard(
        name="625/50",
        lines=625,
        line_hz=15625.0,
        line_sync_s=4.7e-6,
        line_blanking_s=12.0e-6,
        front_porch_s=1.5e-6,
        equalizing_s=2.35e-6,
        equalizing_count=5,
        broad_s=27.3e-6,
        broad_count=5,
        field_blanking_s=25.0 * _LINE_625 + 12.0e-6,
        field_lead_s=2.5 * _LINE_625 + 1.5e-6,
        modulation="negative",
        blanking_level=0.3,
        black_level=0.3,
        sync_carrier=1.0,
        blanking_carrier=0.76,
        white_carrier=0.2,
    ),
    Standard(
        name="405/50",
        lines=405,
        line_hz=10125.0,
        line_sync_s=9.0e-6,
        line_blanking_s=_LINE_405 - 80.3e-6,
        front_porch_s=_LINE_405 - 80.3e-6 - 16.8e-6,
        equalizing_s=0.0,
        equalizing_count=0,
        broad_s=40.0e-6,
        broad_count=8,
        field_blanking_s=14.0 * _LINE_405,
        field_lead_s=_LINE_405 - 80.3e-6 - 16.8e-6,
        modulation="positive",
        blanking_level=0.3,
        black_level=0.3,
        sync_carrier=0.0,
        blanking_carrier=0.3,
        white_carrier=1.0,
    ),
    Standard(
        name="819/50",
        lines=819,
        line_hz=20475.0,
        line_sync_s=2.5e-6,
        line_blanking_s=_LINE_819 - 39.44e-6,
        front_porch_s=_LINE_819 - 39.44e-6 - 8.9e-6,
        equalizing_s=0.0,
        equalizing_count=0,
        broad_s=20.0e-6,
        broad_count=1,
        field_blanking_s=40.5 * _LINE_819,
        field_lead_s=4.0 * _LINE_819 - 39.44e-6 - 8.9e-6,
        modulation="positive",
        blanking_level=0.3,
        black_level=0.35,
        sync_carrier=0.0,
        blanking_carrier=0.3,
        white_carrier=1.0,
    ),
)

STANDARDS = tuple(item.name for item in _ALL)
"""The names of the standards."""


def standard(name: str) -> Standard:
    """Return a scanning standard by its name or by its number of lines.

    Args:
        name: "525/60", "625/50", "405/50" or "819/50"; "525" and so on are understood.
    Returns:
        :class:`Standard`.
    Raises:
        UnknownWord: there is no such standard.
    Source: fcc-73-682, fcc-73-699-memory, tektronix-1910 for 525; bt-470-6 for 625; system-a-e-constants for
        405 and 819.
    Example: the half-line of 625 lines in microseconds, and the field rate of 405.
        >>> round(standard("625").half_line_s * 1e6, 3), standard("405/50").field_hz
        (32.0, 50.0)
    """
    for item in _ALL:
        if name in (item.name, item.name.partition("/")[0]):
            return item
    raise UnknownWord("scanning standard", name, STANDARDS)


def plain_source(of: Standard, *, equalizing: bool = False, interlaced: bool = False) -> Standard:
    """Return a standard as a simple pattern generator or home computer sends it.

    Args:
        of: The standard that it is near to.
        equalizing: Whether it sends equalizing pulses.
        interlaced: Whether its fields are half a line apart; if not, a field has a whole number of lines.
    Returns:
        :class:`Standard` at the same line rate; its field rate differs a little without interlace.
    Raises:
        Nothing: every standard has such a source.
    Source: common practice, no source.
    Example: 525 lines without interlace are two fields of 262.
        >>> made = plain_source(standard("525/60"))
        >>> made.lines, made.equalizing_count, round(made.field_hz, 2)
        (524, 0, 60.11)
    """
    count = of.equalizing_count if equalizing else 0
    lines = of.lines if interlaced else of.lines // 2 * 2
    return replace(of, lines=lines, equalizing_count=count)


@formula("1 / (2 * line_hz)")
def half_line_s(line_hz: Number) -> Number:
    r"""Return half the time of a line.

    .. math:: T_{H/2} = 1 / (2 f_H)

    Args:
        line_hz: Line rate [Hz], > 0.
    Returns:
        Time [s], float or array.
    Raises:
        OutOfRange: The rate is not positive.
    Source: definition.
    Example: 525 lines, in microseconds.
        >>> round(half_line_s(15750.0) * 1e6, 3)
        31.746
    """
    (rate,) = positive(line_hz=line_hz)
    return plain(0.5 / rate)


@formula("line_hz / field_hz")
def lines_per_field(line_hz: Number, field_hz: Number) -> Number:
    r"""Return the lines of one field; the half over makes the interlace.

    .. math:: n = f_H / f_V

    Args:
        line_hz: Line rate [Hz], > 0.
        field_hz: Field rate [Hz], > 0.
    Returns:
        Lines, float or array.
    Raises:
        OutOfRange: A rate is not positive.
    Source: definition; fcc-73-682 for 525 lines, two to one.
    Example: 525 lines.
        >>> lines_per_field(15750.0, 60.0)
        262.5
    """
    line, field = positive(line_hz=line_hz, field_hz=field_hz)
    return plain(line / field)


@formula("1 / line_hz - line_blanking_s")
def active_line_s(line_hz: Number, line_blanking_s: Number) -> Number:
    r"""Return the time of a line that carries picture; the line retrace must fit into the rest.

    .. math:: t = 1 / f_H - t_b

    Args:
        line_hz: Line rate [Hz], > 0.
        line_blanking_s: Line blanking [s], >= 0, less than a line.
    Returns:
        Time [s], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: definition.
    Example: 819 lines with 9.40 us of blanking, in microseconds, worked by hand.
        >>> round(active_line_s(20475.0, 9.40e-6) * 1e6, 2)
        39.44
    """
    (rate,) = positive(line_hz=line_hz)
    (blanking,) = not_negative(line_blanking_s=line_blanking_s)
    left = 1.0 / rate - blanking
    if np.any(left <= 0.0):
        raise OutOfRange(f"line_blanking_s is {float(np.max(blanking)):g}; expected less than a line.")
    return plain(left)


@formula("max(1, round(ripple_hz / field_hz))")
def hum_bar_count(ripple_hz: Number, field_hz: Number) -> Number:
    r"""Return the hum bars on the screen: the dark and bright pairs that one field holds.

    .. math:: n = \max(1, \mathrm{round}(f_r / f_V))

    Args:
        ripple_hz: Rate of the ripple [Hz], > 0: mains rate, or twice that behind a full-wave rectifier.
        field_hz: Field rate [Hz], > 0.
    Returns:
        Bars, float or array.
    Raises:
        OutOfRange: A rate is not positive.
    Source: arithmetic of scanning.
    Example: 120 Hz on 60 fields.
        >>> hum_bar_count(120.0, 60.0)
        2.0
    """
    ripple, field = positive(ripple_hz=ripple_hz, field_hz=field_hz)
    return plain(np.maximum(np.round(ripple / field), 1.0))


@formula("abs(ripple_hz - max(1, round(ripple_hz / field_hz)) * field_hz)")
def hum_bar_drift_hz(ripple_hz: Number, field_hz: Number) -> Number:
    r"""Return how often in a second a hum bar moves on to the place of the next.

    .. math:: d = |f_r - n f_V|, \qquad n = \max(1, \mathrm{round}(f_r / f_V))

    Divided by the number of bars it is the screens that the bars travel in a second.

    Args:
        ripple_hz: Rate of the ripple [Hz], > 0.
        field_hz: Field rate [Hz], > 0.
    Returns:
        Rate [Hz]; 0 where the bars stand, float or array.
    Raises:
        OutOfRange: A rate is not positive.
    Source: arithmetic of scanning.
    Example: 60 Hz on the 59.94 fields of colour takes 16.7 s for a screen; 50 Hz on 60 fields weaves at 10 Hz.
        >>> round(1 / hum_bar_drift_hz(60.0, 59.94), 1), hum_bar_drift_hz(50.0, 60.0)
        (16.7, 10.0)
    """
    ripple, field = positive(ripple_hz=ripple_hz, field_hz=field_hz)
    return plain(np.abs(ripple - np.maximum(np.round(ripple / field), 1.0) * field))


@formula("line_error_hz / field_hz")
def diagonal_bar_count(line_error_hz: Number, field_hz: Number) -> Number:
    r"""Return the diagonal bars into which a line oscillator that is off its rate tears the picture.

    .. math:: n = \Delta f_H / f_V

    Slow, the bars run down to the left; fast, down to the right.

    Args:
        line_error_hz: Oscillator rate from line rate, without sign [Hz], >= 0.
        field_hz: Field rate [Hz], > 0.
    Returns:
        Bars down one field, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: arithmetic of scanning.
    Example: 300 Hz off at 60 fields, worked by hand.
        >>> diagonal_bar_count(300.0, 60.0)
        5.0
    """
    (error,) = not_negative(line_error_hz=line_error_hz)
    (field,) = positive(field_hz=field_hz)
    return plain(error / field)
