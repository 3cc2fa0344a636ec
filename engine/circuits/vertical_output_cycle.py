# SPDX-License-Identifier: MIT
"""The settled field of a vertical output stage: grid, tube, transformer and yoke at all moments at once.

The waveforms repeat from field to field; Newton's rule finds all of them together.  Each round takes the tube as
straight about the last guess, so that the stage is a linear network whose periodic solution is found exactly by
running through one field with each of its four stores of energy in turn.
Limits: see :mod:`vertical_output`.
Sources: derived here; checked against circuit simulation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from backporch.engine.circuits.arguments import Array
from backporch.engine.circuits.tube_curves import Currents, TubeModel, currents, grid_current

__all__ = ["Field", "Stage", "settled_field"]

_RETRACE, _EARLY, _TRACE = 18, 7, 18
"""Moments in the drive's retrace, in the first millisecond of the trace, and in the rest of it."""
_TINY_S = 1e-6
_EARLY_S = 1e-3
_ROUNDS, _MORE_ROUNDS = 7, 12
"""Rounds for all draws, and further rounds for those that have not settled by then."""
_GRID_ROUNDS = 2
_SETTLED_V = 0.7
"""No more rounds when no plate lies further from its last guess."""
_LEAST_SHARE = 0.25
"""From one guess to the next no plate comes nearer to its cathode, or goes further, than by this share."""
_MOST_RISE_V = 50.0
_INPUT_F = 20e-12


@dataclass(frozen=True)
class Stage:
    """The parts with the leaks folded in, and the drive."""

    tube: TubeModel
    supply: Array
    ratio: Array
    primary_h: Array
    primary: Array
    yoke_h: Array
    yoke: Array
    """Yoke, secondary and anything in series."""
    damping: Array
    stray: Array
    cathode: Array
    bypass: Array
    grid_source: Array
    grid_leak: Array
    coupling: Array
    """Coupling capacitor in series with the sawtooth capacitor."""
    screen_supply: Array
    dropper: Array
    sawtooth: Array
    slope_ratio: Array
    pulse: Array
    retrace: Array
    period: Array


@dataclass(frozen=True)
class Field:
    """Waveforms of a field along the first axis; the retrace of the drive comes first."""

    time: Array
    yoke: Array
    plate: Array
    cathode: Array
    grid: Array
    plate_a: Array
    screen_a: Array
    screen: Array
    """Screen voltage, without a first axis."""
    weight: Array
    """Share of the field that each moment stands for."""


@dataclass(frozen=True)
class _Steps:
    time: Array
    length: Array
    weight: Array
    node: Array
    """Weight of the end of a step in the sum of currents at the plate."""
    slow: Array
    """The same for the currents of the inductances."""


@dataclass(frozen=True)
class _Network:
    """What each step does to the stores of energy, along the first axis."""

    magnet_kept: Array
    magnet_by: Array
    """Of magnetizing current by the secondary voltage at the end of the step; so with the next."""
    yoke_stay: Array
    yoke_kept: Array
    yoke_by: Array
    plate_kept: Array
    plate_left: Array
    plate_by: Array
    foot_stay: Array
    foot_by: Array
    foot_old: Array
    """Share of the cathode current at the beginning of the step against that at its end."""


@dataclass(frozen=True)
class _Waves:
    plate: Array
    cathode: Array
    grid: Array
    yoke: Array
    screen: Array


def settled_field(stage: Stage) -> Field:
    """Return the field that repeats itself.

    Args:
        stage: The parts and the drive as arrays, see :class:`Stage`; not checked here.
    Returns:
        :class:`Field`, waveforms [V, A] along the first axis.
    Raises:
        ValueError: The parts do not go together in shape.
    Source: circuit equations of tube, transformer and yoke, stepped here.
    Example: peak-to-peak yoke current of a usual triode stage.
        >>> tube = TubeModel(17.04, 1.336, 1079.0, 116.9, 406.1)
        >>> parts = (280.0, 12.0, 12.0, 350.0, 0.05, 60.0, 1e9, 2e-9, 500.0, 100e-6, 0.0, 1e6, 0.1e-6, 0.0, 0.0)
        >>> stage = Stage(tube, *map(np.array, (*parts, 20.0, 0.9, 40.0, 0.7e-3, 1 / 60)))
        >>> round(float(np.ptp(settled_field(stage).yoke)), 2)
        0.37
    """
    steps = _steps(stage)
    drive = _drive(stage, steps.time) * stage.coupling / (stage.coupling + _INPUT_F)
    foot = 0.0 * drive + np.minimum(8.0, 0.02 * stage.supply)
    start = drive - drive.max(axis=0) + foot + 2.0
    waves = _Waves(stage.supply + 0.0 * drive, foot, start, 0.0 * drive, 1.0 * stage.screen_supply)
    waves, miss = _rounds(stage, steps, drive, waves, _ROUNDS)
    rest = np.flatnonzero(miss > _SETTLED_V)
    if stage.supply.ndim and rest.size:
        waves = _stragglers(stage, steps, drive, waves, rest)
    elif rest.size:
        waves, _ = _rounds(stage, steps, drive, waves, _MORE_ROUNDS)
    now = _tube(stage, waves)
    return Field(
        steps.time,
        waves.yoke,
        waves.plate,
        waves.cathode,
        waves.grid,
        now.plate,
        now.screen,
        waves.screen,
        steps.weight,
    )


def _rounds(stage: Stage, steps: _Steps, drive: Array, waves: _Waves, most: int) -> tuple[_Waves, Array]:
    """Return the waveforms after some rounds, and how far each draw still is from itself.

    A draw that has settled is left as it is, so that its waveforms do not depend on the draws beside it.
    """
    network = _network(stage, steps)
    waves, miss = _round(stage, steps, network, drive, waves)
    for _ in range(most - 1):
        settled = miss < _SETTLED_V
        if np.all(settled):
            break
        later, away = _round(stage, steps, network, drive, waves)
        waves, miss = _kept(settled, waves, later), np.where(settled, miss, away)
    return waves, miss


def _kept(settled: Any, waves: _Waves, later: _Waves) -> _Waves:
    """Return the later waveforms, and those of before where a draw had settled."""
    if not np.any(settled):
        return later
    pairs = zip(vars(waves).values(), vars(later).values(), strict=True)
    return _Waves(*(np.where(settled, before, after) for before, after in pairs))


def _stragglers(stage: Stage, steps: _Steps, drive: Array, waves: _Waves, which: Any) -> _Waves:
    """Return the waveforms after more rounds for the draws that need them."""

    def part(value: Any) -> Any:
        return value[..., which] if np.ndim(value) and np.shape(value)[-1] == len(stage.supply) else value

    tube = TubeModel(**{name: part(value) for name, value in vars(stage.tube).items()})
    fewer = Stage(tube, *(part(value) for name, value in vars(stage).items() if name != "tube"))
    fewer_steps = _Steps(*(part(value) for value in vars(steps).values()))
    found, _ = _rounds(
        fewer, fewer_steps, part(drive), _Waves(*(part(v) for v in vars(waves).values())), _MORE_ROUNDS
    )
    whole = [np.array(value) for value in vars(waves).values()]
    for value, better in zip(whole, vars(found).values(), strict=True):
        value[..., which] = better
    return _Waves(*whole)


def _steps(stage: Stage) -> _Steps:
    """Return the moments of the field, close together where things happen fast."""

    def column(values: Array) -> Array:
        return values.reshape((-1,) + (1,) * stage.period.ndim)

    retrace, trace = stage.retrace, stage.period - stage.retrace
    early = np.minimum(_EARLY_S, 0.2 * trace)
    falls = _TINY_S + column(np.linspace(0.0, 1.0, _RETRACE)) * (retrace - _TINY_S)
    begins = retrace + early * column(np.geomspace(4.0 * _TINY_S / _EARLY_S, 1.0, _EARLY))
    rest = column(np.linspace(0.0, 1.0, _TRACE + 1)[1:] ** 1.1)
    time = np.concatenate([falls, begins, retrace + early + rest * (trace - early)])
    length = np.diff(time, axis=0, prepend=0.0)
    place = np.arange(len(time))
    first = (place == 0) | (place == _RETRACE)
    node = np.where((place == 0) | (place >= _RETRACE), 1.0, 0.5)
    weight = 0.5 * (length + np.roll(length, -1, axis=0)) / stage.period
    return _Steps(time, length, weight, column(node), column(np.where(first, 1.0, 0.5)))


def _drive(stage: Stage, time: Array) -> Array:
    """Return the trapezoid at the sawtooth capacitor."""
    part = np.clip((time - stage.retrace) / (stage.period - stage.retrace), 0.0, 1.0)
    bend = np.minimum(stage.slope_ratio, 0.9999)
    ramp = stage.sawtooth * (1.0 - bend**part) / (1.0 - bend)
    falling = stage.sawtooth * (1.0 - np.clip(time / stage.retrace, 0.0, 1.0)) - stage.pulse
    return np.asarray(np.where(time <= stage.retrace * (1.0 + 1e-9), falling, ramp))


def _tube(stage: Stage, waves: _Waves) -> Currents:
    foot = waves.cathode
    return currents(stage.tube, waves.plate - foot, waves.grid - foot, waves.screen - foot)


def _round(stage: Stage, steps: _Steps, network: _Network, drive: Array, waves: _Waves) -> tuple[_Waves, Array]:
    """Return the next guess of all waveforms, and how far the plate was from the last."""
    grid = _grid(stage, steps, drive, waves)
    waves = _Waves(waves.plate, waves.cathode, grid, waves.yoke, waves.screen)
    now = _tube(stage, waves)
    drawn = np.sum(now.screen * steps.weight, axis=0)
    steep = np.sum(now.screen_by_screen * steps.weight, axis=0)
    miss = waves.screen - stage.screen_supply + stage.dropper * drawn
    screen = waves.screen - miss / (1.0 + stage.dropper * steep)
    plate, cathode, yoke = _run_through(stage, network, now, waves)
    above = np.maximum(waves.plate - waves.cathode, 0.0)
    near, far = cathode + _LEAST_SHARE * above, cathode + above / _LEAST_SHARE + _MOST_RISE_V
    away = np.max(np.abs(plate - waves.plate), axis=0)
    return _Waves(np.clip(plate, near, far), cathode, grid, yoke, np.asarray(screen)), np.asarray(away)


def _grid(stage: Stage, steps: _Steps, drive: Array, waves: _Waves) -> Array:
    """Return the grid behind its coupling capacitor, held by grid current at its peaks."""
    store = stage.coupling + _INPUT_F
    unit, h = stage.grid_leak * store, steps.length
    jumps, grid = drive - np.roll(drive, 1, axis=0), waves.grid
    late = np.maximum(0.5, h / (h + unit))
    for _ in range(_GRID_ROUNDS):
        into = grid_current(stage.tube, grid - waves.cathode)
        share = 1.0 / (1.0 + late * h / unit + h * into.slope / store)
        stay = (1.0 - (1.0 - late) * h / unit) * share
        given = share * (jumps + h / unit * stage.grid_source - h * (into.current - into.slope * grid) / store)
        value, values = np.stack([0.0 * drive[0], 1.0 + 0.0 * drive[0]]), []
        added = np.stack([given, 0.0 * given], axis=1)
        for k in range(len(h)):
            value = stay[k] * value + added[k]
            values.append(value)
        made, kept = np.stack(values, axis=1)
        grid = made + kept * made[-1] / (1.0 - kept[-1])
    return np.asarray(grid)


def _network(stage: Stage, steps: _Steps) -> _Network:
    """Return what the steps do, the same in every round."""
    h, w, wn, n = steps.length, steps.slow, steps.node, stage.ratio
    h, w, wn = h + 0.0 * stage.supply, w + 0.0 * h, wn + 0.0 * h
    series, tau = stage.yoke / stage.yoke_h, stage.cathode * stage.bypass
    slow = 1.0 / (1.0 + w * h * series)
    late = np.maximum(0.5, h / (h + tau))
    late[0] = 1.0
    share = 1.0 / (1.0 + late * h / tau)
    magnet_by, yoke_by = w * h * n / stage.primary_h, w * h / stage.yoke_h * slow
    return _Network(
        h * n * (1.0 - w) / stage.primary_h,
        magnet_by,
        (1.0 - (1.0 - w) * h * series) * slow,
        h / stage.yoke_h * (1.0 - w) * slow,
        yoke_by,
        stage.stray * n / (h * wn),
        (1.0 - wn) / wn,
        magnet_by + yoke_by / n + 1.0 / (n * stage.damping) + stage.stray * n / (h * wn),
        (1.0 - (1.0 - late) * h / tau) * share,
        late * h / stage.bypass * share,
        (1.0 - late) / late,
    )


def _run_through(stage: Stage, net: _Network, now: Currents, waves: _Waves) -> tuple[Array, Array, Array]:
    """Return plate, cathode and yoke current with the tube straight about the last guess.

    The leading axis of the running values holds the forced solution and one for each store: magnetizing current,
    yoke current, secondary voltage and cathode voltage.
    """
    leading = (5,) + (1,) * stage.supply.ndim
    unit = np.eye(5).reshape((5, *leading)) + 0.0 * stage.supply
    forced, magnet, yoke, second, foot = unit
    left = total = 0.0 * forced
    down, n, gain = now.by_grid + now.by_plate + now.by_screen, stage.ratio, now.by_plate
    fixed = now.plate + gain * (stage.supply - waves.plate) + down * waves.cathode
    share = 1.0 / (1.0 + gain * (stage.primary + n / net.plate_by) + down * net.foot_by)
    kept = []
    for k in range(len(fixed)):
        magnet, yoke = magnet + net.magnet_kept[k] * second, net.yoke_stay[k] * yoke + net.yoke_kept[k] * second
        flow = magnet + yoke / n - net.plate_kept[k] * second - net.plate_left[k] * left
        screen = now.screen[k] * forced
        foot = net.foot_stay[k] * foot + net.foot_by[k] * (net.foot_old[k] * total + screen)
        drawn = fixed[k] * forced + gain[k] * n / net.plate_by[k] * flow - down[k] * foot
        drawn = share[k] * drawn
        second = (drawn - flow) / net.plate_by[k]
        magnet, yoke = magnet + net.magnet_by[k] * second, yoke + net.yoke_by[k] * second
        foot = foot + net.foot_by[k] * drawn
        left = drawn - magnet - yoke / n - second / (n * stage.damping)
        total = drawn + screen
        kept.append((drawn, second, foot, yoke))
    mixed = _periodic(np.stack([magnet, yoke, second, foot]))
    drawn, second, foot, yoke = np.sum(np.array(kept) * mixed, axis=2).swapaxes(0, 1)
    return stage.supply - stage.primary * drawn - n * second, foot, yoke


def _periodic(end: Array) -> Array:
    """Return how much of each solution makes a field that ends as it began; the forced one counts once."""
    moved = np.moveaxis(end, (0, 1), (-2, -1))
    start = np.linalg.solve(np.eye(4) - moved[..., 1:], moved[..., :1])[..., 0]
    whole = np.concatenate([np.ones((*start.shape[:-1], 1)), start], axis=-1)
    return np.asarray(np.moveaxis(whole, -1, 0))
