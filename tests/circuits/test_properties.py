"""Properties that every formula of the circuits must have, tried on its own worked example.

The examples in the docstrings are run and listened to; what each formula was called with there is then changed one
argument at a time.
"""

import doctest
import importlib
import inspect
import math
import pkgutil
from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest

import backporch.engine.circuits
from backporch.engine.circuits.formula import listened_to
from backporch.engine.errors import BackporchError
from backporch.engine.units import parse, show, unit_of_name

STEPS = np.array([0.8, 0.9, 1.0, 1.1, 1.25])
PARTS = ("_ohm", "_f", "_h")
FAR = (1e-9, 1e9)
"""An open or shorted part against a usual one."""


def _examples():
    """Return the first call of each formula in the worked examples."""
    calls = {}

    def keep(function, args, kwargs, result):
        bound = inspect.signature(function).bind(*args, **kwargs)
        bound.apply_defaults()
        calls.setdefault(
            f"{function.__module__.rpartition('.')[2]}.{function.__name__}", (function, bound.arguments)
        )
        return result

    for info in pkgutil.iter_modules(backporch.engine.circuits.__path__):
        module = importlib.import_module(f"backporch.engine.circuits.{info.name}")
        with listened_to(keep):
            doctest.testmod(module, optionflags=doctest.NORMALIZE_WHITESPACE)
    return calls


CALLS = _examples()


def _numbers(arguments):
    """Give the path of each number among the arguments, those inside parts too."""
    for name, value in arguments.items():
        if is_dataclass(value) and not isinstance(value, type):
            for field in fields(value):
                if _is_number(getattr(value, field.name)):
                    yield (name, field.name)
        elif _is_number(value):
            yield (name,)


def _is_number(value):
    return isinstance(value, float | int) and not isinstance(value, bool) and math.isfinite(value)


def _value(arguments, path):
    value = arguments[path[0]]
    return getattr(value, path[1]) if len(path) > 1 else value


def _changed(arguments, path, value):
    if len(path) == 1:
        return {**arguments, path[0]: value}
    return {**arguments, path[0]: replace(arguments[path[0]], **{path[1]: value})}


def _called(function, arguments):
    """Return the single numbers that a formula gives, by name, or nothing where it refuses."""
    try:
        result = function(**arguments)
    except BackporchError:
        return None
    found = {f.name: getattr(result, f.name) for f in fields(result)} if is_dataclass(result) else {"": result}
    return {name: float(value) for name, value in found.items() if isinstance(value, float)}


BENDS = {
    "flyback_boost.boost": "a tap gives most boost where it matches the tube",
    "flyback_stage.output_stage": "a tap gives most boost where it matches the tube",
    "horizontal.line_lock": "holds only near the line rate",
    "horizontal_loop.hum_shift_s": "the loop resonates at one rate of hum",
    "horizontal_multivibrator.control_slope": "a difference of two solved rates, good to a twentieth",
    "horizontal_multivibrator.multivibrator": "the fall of the sawtooth is followed in steps",
    "horizontal_picture.bend_drift_hz": "a beat, least where both rates agree",
    "horizontal_picture.diagonal_bars": "a beat, least where both rates agree",
    "picture_tube_ion_trap.ion_trap": "brightest where the magnet fits the bend",
    "scanning.hum_bar_drift_hz": "a beat, least where both rates agree",
    "supply.full_wave_doubler_output": "the component at mains rate comes of halves that differ",
    "supply_rectifiers.hum_bars": "a beat, least where both rates agree",
    "sync_integrator.integrated_field_pulse": "half a line more or less changes the fields over",
    "vertical.vertical_lock": "locks only near the field rate",
    "vertical_oscillator.blocking_oscillator": "the pulse is followed in steps",
    "vertical_output_coupled.output_coupled_multivibrator": "followed in steps until a field repeats itself",
    "vertical_output.vertical_output": "most current where tube, ratio and drive match; beyond it the stage clips",
    "video_drive.contrast_slider": "a slider has most resistance behind it half way",
    "video_peaking.cathode_trap_share": "resonance",
    "video_peaking.parallel_trap_share": "resonance",
    "video_peaking.series_trap_share": "resonance",
}
"""Where physics, or the way something is solved, turns back within a quarter; all other formulas go one way."""


TOGETHER = ("vertical_output_coupled.output_coupled_multivibrator",)
"""Followed through whole fields, a second for one set: its own tests open and short all parts at once."""

SINGLE = (
    "scanning_waveform.composite_sync",
    "scanning_waveform.composite_video",
    "sync_integrator.integrator_waveform",
)
"""Waveforms over time: of one standard and one network."""


@pytest.mark.parametrize("name", CALLS)
class TestEveryFormula:
    def test_goes_one_way(self, name):
        """A quarter more or a fifth less of an argument moves a result one way, but where physics turns back."""
        function, arguments = CALLS[name]
        for path in _numbers(arguments) if name not in BENDS else ():
            usual = _value(arguments, path)
            if usual == 0.0:
                continue
            rows = [_called(function, _changed(arguments, path, usual * step)) for step in STEPS]
            if any(row is None for row in rows):
                continue
            for field in rows[0]:
                values = np.array([row[field] for row in rows])
                if np.isinf(values).all():
                    continue
                steps, least = np.diff(values), 0.01 * np.max(np.abs(values))
                assert not (np.any(steps > least) and np.any(steps < -least)), (path, field, values.tolist())

    def test_a_part_open_or_shorted_gives_a_number(self, name):
        """With any resistor, capacitor or coil far too large or far too small there is a number, or a refusal."""
        function, arguments = CALLS[name]
        for path in _numbers(arguments) if name not in TOGETHER else ():
            usual = _value(arguments, path)
            if not path[-1].endswith(PARTS) or usual == 0.0:
                continue
            for factor in FAR:
                found = _called(function, _changed(arguments, path, usual * factor)) or {}
                assert not any(math.isnan(value) for value in found.values()), (path, factor, found)

    def test_many_at_once_are_each_as_alone(self, name):
        """An array of values gives an array of what each value gives alone."""
        function, arguments = CALLS[name]
        path = next(
            (p for p in _numbers(arguments) if isinstance(_value(arguments, p), float) and _value(arguments, p)),
            None,
        )
        if path is None or name in SINGLE:
            return
        values = _value(arguments, path) * STEPS
        rows = [_called(function, _changed(arguments, path, float(value))) for value in values]
        try:
            result = function(**_changed(arguments, path, values))
        except BackporchError:
            assert any(row is None for row in rows)
            return
        for field in rows[0] if None not in rows else ():
            many = np.asarray(getattr(result, field) if field else result)
            assert np.allclose(many, [row[field] for row in rows], rtol=2e-3, atol=1e-12), (path, field)

    def test_units_make_the_round_trip(self, name):
        """What is shown of an argument, with its unit, is read as the same number."""
        _, arguments = CALLS[name]
        for path in _numbers(arguments):
            unit, value = unit_of_name(path[-1]), float(_value(arguments, path))
            if unit in ("V", "A", "ohm", "F", "H", "Hz", "s", "W") and 1e-11 < abs(value) < 1e8:
                assert math.isclose(value, parse(show(value, unit, digits=9), unit), rel_tol=1e-7), path


def test_every_formula_is_tried():
    """No formula of the circuits goes without an example to try, and few turn back."""
    assert len(CALLS) > 200
    assert set(BENDS) <= set(CALLS)
    assert len(BENDS) < 0.12 * len(CALLS)
