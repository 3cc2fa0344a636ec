# SPDX-License-Identifier: MIT
"""Draws traces as an oscilloscope does: graticule, volts and time to a division, healthy and faulty together.

Limits: drawing to a file needs the plotting library of the extra "plots".
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from rich.text import Text

from backporch.engine.errors import BadInput
from backporch.engine.picture.waveform import DIVISIONS, Wave, round_step
from backporch.engine.units import show

__all__ = ["Graticule", "graticule", "scope_file", "scope_lines"]

_ACROSS, _DOWN = DIVISIONS, 8
HEALTHY, FAULTY = "#0072b2", "#d55e00"
"""Two colours that colour-blind eyes tell apart."""
_BUCKETS = 400
_GRID = (128, 128, 128)
_PLAIN_FRAME = str.maketrans("─│┌┐└┘┼├┤┬┴▁▔", "-|+++++++++__")
"""What stands for the lines of the frame where a terminal has ASCII alone."""


@dataclass(frozen=True)
class Graticule:
    """The setting of the oscilloscope."""

    volts: float
    """To a division [V]."""
    seconds: float
    """To a division [s]."""
    middle_v: float = 0.0
    """Voltage at the middle of the screen [V]."""

    @property
    def said(self) -> str:
        """The setting in words."""
        return f"{show(self.volts, 'V')} and {show(self.seconds, 's')} a division"


def graticule(traces: Mapping[str, Wave]) -> Graticule:
    """Return the setting in steps of 1, 2 and 5 at which all traces fit the screen and nearly fill it.

    Example:
        >>> import numpy as np
        >>> time = np.linspace(0.0, 100e-6, 50)
        >>> graticule({"one": Wave("b-plus", "line", time, 30 * np.sin(time * 1e5), 60.0, None)})
        Graticule(volts=10.0, seconds=1e-05, middle_v=0.0)
    """
    high = max(float(wave.volts.max()) for wave in traces.values())
    low = min(float(wave.volts.min()) for wave in traces.values())
    longest = max(float(wave.time_s[-1]) for wave in traces.values())
    volts = round_step((high - low) / (_DOWN - 1.5))
    return Graticule(volts, round_step(longest / _ACROSS * 0.999), volts * round(0.5 * (high + low) / volts))


def scope_lines(traces: Mapping[str, Wave], width: int, *, colour: bool, blocks: bool = True) -> list[Text]:
    """Return the screen as lines of text; without colour each trace has a screen of its own, to the same scale.

    Args:
        traces: Traces by what they are called, the healthy one first.
        width: Characters across.
        colour: Whether colours may be used.
        blocks: Whether the terminal has more than ASCII.
    Example:
        >>> import numpy as np
        >>> time = np.linspace(0.0, 100e-6, 50)
        >>> wave = Wave("b-plus", "line", time, 30 * np.sin(time * 1e5), 60.0, None)
        >>> lines = scope_lines({"healthy": wave}, 60, colour=False, blocks=False)
        >>> max(line.cell_len for line in lines) <= 60
        True
    """
    setting = graticule(traces)
    if colour or len(traces) == 1:
        return _screen(traces, setting, width, 16, colour=colour, blocks=blocks)
    lines = []
    for name, wave in traces.items():
        lines += [Text(f"{name}:"), *_screen({name: wave}, setting, width, 11, colour=False, blocks=blocks)]
    return lines


def _screen(
    traces: Mapping[str, Wave], setting: Graticule, width: int, height: int, *, colour: bool, blocks: bool
) -> list[Text]:
    from uniplot import plot_to_string

    small, unit = (1e6, "us") if setting.seconds < 1e-4 else (1e3, "ms")
    across = {name: _thinned(wave) for name, wave in traces.items()}
    options: dict[str, Any] = {
        "lines": True,
        "width": max(width - 14, 20),
        "height": height,
        "x_min": 0.0,
        "x_max": setting.seconds * _ACROSS * small,
        "y_min": setting.middle_v - setting.volts * _DOWN / 2,
        "y_max": setting.middle_v + setting.volts * _DOWN / 2,
        "x_unit": f" {unit}",
        "y_unit": " V",
        "y_gridlines": [setting.middle_v + setting.volts * n for n in (-2, 0, 2)],
        "x_gridlines": [setting.seconds * small * n for n in (2, 4, 6, 8)],
        "x_gridlines_color": [_GRID],
        "y_gridlines_color": [_GRID],
        "character_set": "braille" if blocks else "ascii",
        "color": [_terminal_colour(n) for n in range(len(traces))] if colour else False,
    }
    if colour and len(traces) > 1:
        options["legend_labels"] = list(traces)
    drawn = plot_to_string(
        ys=[y for _, y in across.values()], xs=[x * small for x, _ in across.values()], **options
    )
    if not blocks:
        drawn = drawn.translate(_PLAIN_FRAME).encode("ascii", "replace").decode("ascii")
    lines = [Text.from_ansi(line) for line in drawn.splitlines()]
    for line in lines:
        line.rstrip()
    return [line for line in lines if line.plain] or lines


def _terminal_colour(number: int) -> tuple[int, int, int]:
    code = (HEALTHY, FAULTY)[number % 2]
    return (int(code[1:3], 16), int(code[3:5], 16), int(code[5:7], 16))


def _thinned(wave: Wave) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Return a trace of few points that still reaches every crest: least and most of each stretch."""
    per = max(len(wave.volts) // _BUCKETS, 1)
    count = len(wave.volts) // per * per
    volts, time = wave.volts[:count].reshape(-1, per), wave.time_s[:count].reshape(-1, per)
    least_first = volts.argmin(axis=1) < volts.argmax(axis=1)
    low, high = volts.min(axis=1), volts.max(axis=1)
    first, second = np.where(least_first, low, high), np.where(least_first, high, low)
    middle = time.mean(axis=1)
    return np.repeat(middle, 2), np.column_stack([first, second]).ravel()


def scope_file(title: str, screens: Mapping[str, Mapping[str, Wave]], kind: str) -> bytes:
    """Return screens one above the other as a file.

    Args:
        title: Said at the top.
        screens: For each screen what it is called and its traces.
        kind: "png" or "svg".
    Raises:
        BadInput: the plotting library is not installed.
    """
    try:
        from matplotlib.backends.backend_svg import FigureCanvasSVG  # noqa: F401
        from matplotlib.figure import Figure
    except ImportError:
        raise BadInput(
            "Drawing to a file needs matplotlib. Install it with: pip install 'backporch[plots]'. "
            "Without --png and --svg the drawing comes in the terminal."
        ) from None
    figure = Figure(figsize=(8, 0.6 + 3.9 * len(screens)), layout="constrained")
    figure.suptitle(title, fontsize=12)
    for number, (name, traces) in enumerate(screens.items(), start=1):
        _draw(figure.add_subplot(len(screens), 1, number), name, traces)
    out = io.BytesIO()
    metadata: dict[str, Any] = {"Date": None} if kind == "svg" else {}
    figure.savefig(out, format=kind, dpi=120, metadata=metadata)
    return out.getvalue()


def _draw(axes: Any, name: str, traces: Mapping[str, Wave]) -> None:
    setting = graticule(traces)
    small, unit = (1e6, "µs") if setting.seconds < 1e-4 else (1e3, "ms")
    for (label, wave), colour, width in zip(traces.items(), (HEALTHY, FAULTY), (2.4, 1.3), strict=False):
        axes.plot(wave.time_s * small, wave.volts, color=colour, linewidth=width, label=label)
    axes.set_xlim(0, setting.seconds * _ACROSS * small)
    rows = setting.middle_v + (np.arange(_DOWN + 1) - _DOWN / 2) * setting.volts
    axes.set_ylim(rows[0], rows[-1])
    axes.set_xticks(np.arange(_ACROSS + 1) * setting.seconds * small)
    axes.set_yticks(rows)
    axes.grid(color="#c9c6bf", linewidth=0.7)
    axes.tick_params(labelsize=8)
    axes.set_title(f"{name}: {setting.said}", fontsize=9, loc="left")
    axes.set_xlabel(unit, fontsize=9)
    axes.set_ylabel("V, less the direct voltage", fontsize=9)
    axes.legend(loc="upper right", fontsize=8, framealpha=0.9)
