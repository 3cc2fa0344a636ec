# SPDX-License-Identifier: MIT
"""The line oscillator at its hold control, the drive that it shapes, and the bias that the drive makes.

Chains the multivibrator, the charged sawtooth and the driven grid of the circuits.
Limits: a tube with a short from grid to cathode or a bad contact simply stops the oscillator.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import Value, healthy_batch
from backporch.engine.chassis.per_chassis import PerChassis
from backporch.engine.chassis.simulator.basics import smooth_step
from backporch.engine.chassis.simulator.bench import Bench, Run
from backporch.engine.chassis.simulator.memo import RowMemo, rounded
from backporch.engine.chassis.simulator.power import emission, tube_type
from backporch.engine.chassis.simulator.tube_fits import triode_fit
from backporch.engine.circuits.horizontal_drive import GridCircuit, drive_at_grid_v, output_drive
from backporch.engine.circuits.horizontal_multivibrator import (
    Multivibrator,
    MultivibratorParts,
    TriodeFit,
    multivibrator,
)

__all__ = ["drive", "line_rate", "oscillator"]

Floats = NDArray[np.float64]

_STAGE = "horizontal-oscillator"
_OUTPUT = "horizontal-output"
_STEP_V = 0.5
_KINDS = ("6SN7GTB", "6CG7", "12AU7", "ECC82", "6C4")
_PART_NAMES = tuple(f.name for f in fields(MultivibratorParts))
_RESULT_NAMES = tuple(f.name for f in fields(Multivibrator))
_SUPPLY_REACH = 0.25
_DESIGN_PLACES = (
    (1.0, 0.0, 0.0),
    (0.0, 0.0, 0.0),
    (0.5, 0.0, 0.0),
    (0.5, _STEP_V, 0.0),
    (0.5, 0.0, -_SUPPLY_REACH),
    (0.5, 0.0, _SUPPLY_REACH),
)
"""Hold control, control voltage and logarithm of supply over nominal at which the design is looked at."""
_GRID_STRAY_F = 40e-12
_SUPPLY_STEPS = 8.0
"""Steps of the supply to a factor of e; within one, voltages follow the supply and the rate a power of it."""


def line_rate(run: Run) -> float:
    """Return the line rate of the standard."""
    rates = {"525/60": 15750.0, "625/50": 15625.0, "405/50": 10125.0, "819/50": 20475.0}
    return cast(float, run.known("line_hz", rates[run.chassis.standard]))


def oscillator(run: Run) -> None:
    """Find the free-running rate where the hold stands and at both ends, and the slope of its control."""
    set_at = run.position(_STAGE, "hold")
    design = _design(run.chassis)
    found = _at(run, set_at, 0.0)
    rate = found["frequency_hz"] * run.trim("horizontal-rate")
    alive = _alive(run) & (rate > 2000.0)
    run.keep(
        line_free_hz=np.where(alive, rate, line_rate(run)),
        line_alive=alive,
        line_hz=line_rate(run),
        line_slope=run.known("slope of the designed oscillator", design.slope)
        * np.where(alive, rate, line_rate(run))
        / line_rate(run),
    )
    _hold_ends(run, rate, alive, set_at, design)
    _points(run, found, alive)


def _hold_ends(run: Run, rate: Floats, alive: Value, set_at: Value, design: _Design) -> None:
    """Find the ends of the hold control: the rate follows a power of the timing resistance."""
    batch = run.batch
    track, plate = batch.ohms(_STAGE, "hold", 0.0), batch.ohms(_STAGE, "plate-load")
    fixed = batch.ohms(_STAGE, "grid-resistor") + batch.contact(_STAGE, "hold") + plate
    now = fixed + track * set_at
    low, high = (rate * (now / (fixed + track * at)) ** design.power for at in (1.0, 0.0))
    run.show(line_hold_low_hz=np.where(alive, low, 0.0), line_hold_high_hz=np.where(alive, high, 0.0))


@dataclass(frozen=True)
class _Design:
    """What the nominal oscillator does over its hold control and its control voltage."""

    power: float
    """Power of the timing resistance with which the rate falls."""
    slope: float
    """Change of rate with control voltage at the line rate [Hz/V], negative."""
    supply_power: float
    """Power of the supply with which the rate goes."""


def _designed(chassis: Chassis) -> _Design:
    one = healthy_batch(chassis)
    position, control, share = np.array(_DESIGN_PLACES).T
    run = Run(chassis, one.of_rows(np.zeros(len(share), dtype=np.intp)), Bench())
    run.inner["rail:horizontal"] = _nominal_v(chassis) * np.exp(share)
    found = _near(run, position, control, run.inner["rail:horizontal"])["frequency_hz"]
    low, high, middle, steered, sagged, raised = (float(hz) for hz in found)
    parts = _parts(run, 0.0)
    fixed = float(np.ravel(parts.grid_leak_ohm + parts.first_plate_ohm)[0])
    track = float(np.ravel(run.batch.ohms(_STAGE, "hold", 1.0))[0])
    power = np.log(max(high, 1.0) / max(low, 1.0)) / np.log((fixed + track) / fixed)
    slope = (steered - middle) / _STEP_V * line_rate(run) / max(middle, 1.0)
    sagging = np.log(max(raised, 1.0) / max(sagged, 1.0)) / (2.0 * _SUPPLY_REACH)
    return _Design(float(np.clip(power, 0.05, 1.0)), min(slope, -1.0), float(np.clip(sagging, -0.5, 0.5)))


_design = PerChassis(_designed)


def _parts(run: Run, position: Value) -> MultivibratorParts:
    batch = run.batch
    grid = batch.ohms(_STAGE, "grid-resistor") + batch.ohms(_STAGE, "hold", 0.0) * position
    return MultivibratorParts(
        first_plate_ohm=batch.ohms(_STAGE, "plate-load"),
        coupling_f=batch.farads(_STAGE, "coupling"),
        grid_leak_ohm=grid + batch.contact(_STAGE, "hold"),
        cathode_ohm=batch.ohms(_STAGE, "cathode"),
        second_plate_ohm=batch.ohms(_STAGE, "plate-load-2"),
        discharge_f=_discharge_f(run),
        coupling_leak_ohm=batch.leak(_STAGE, "coupling"),
        discharge_leak_ohm=_discharge_leak(run),
        coil_h=_coil_h(run),
        coil_f=batch.farads(_STAGE, "stabilizing-capacitor", 1e-9),
        coil_loss_ohm=run.figure("stabilizing_loss_ohm", 8e3) if batch.has(_STAGE, "stabilizing-coil") else 1.0,
    )


def _coil_h(run: Run) -> Value:
    stage, batch = _STAGE, run.batch
    if not batch.has(stage, "stabilizing-coil"):
        return 1e-9
    left = 1.0 - 0.9 * batch.parameter(stage, "stabilizing-coil", "turns_shorted")
    return np.maximum(batch.henries(stage, "stabilizing-coil") * left, 1e-9)


def _discharge_f(run: Run) -> Value:
    stage, batch = "horizontal-drive", run.batch
    preset: Value = 0.0
    if batch.has(stage, "preset"):
        preset = batch.value(stage, "preset") * run.position(stage, "preset")
    joined = np.asanyarray(batch.ohms(stage, "peaking", 0.0)) < 1e6
    return np.maximum(np.where(joined, batch.farads(stage, "capacitor"), 0.0) + preset, 30e-12)


def _discharge_leak(run: Run) -> Value:
    stage, batch = "horizontal-drive", run.batch
    both = 1.0 / batch.leak(stage, "capacitor") + 1.0 / batch.leak(stage, "preset")
    return 1.0 / both


def _fits(run: Run) -> tuple[TriodeFit, TriodeFit]:
    first = triode_fit(tube_type(run, _STAGE, "oscillator"), emission(run, _STAGE, "oscillator"))
    second = triode_fit(tube_type(run, _STAGE, "oscillator-2"), emission(run, _STAGE, "oscillator-2"))
    return first, second


def _at(run: Run, position: Value, control_v: Value) -> dict[str, Floats]:
    """Return the oscillator with its hold at ``position`` and a control voltage; each result for all draws."""
    supply = np.maximum(run.inner["rail:horizontal"], 1.0)
    made = None
    if run.bench.record:
        first, second = _fits(run)
        made = run.calc(
            multivibrator,
            "line oscillator",
            parts=_parts(run, position),
            first=first,
            second=second,
            supply_v=supply,
            control_v=control_v,
        )
    near = _near_v(run, supply)
    found = _near(run, position, control_v, near)
    scaled = {name: v * supply / near if name.endswith("_v") else v for name, v in found.items()}
    scaled["frequency_hz"] = found["frequency_hz"] * (supply / near) ** _design(run.chassis).supply_power
    return {name: run.way(v, getattr(made, name, v)) for name, v in scaled.items()}


def _near(run: Run, position: Value, control_v: Value, supply: Floats) -> dict[str, Floats]:
    """Return the oscillator at a supply on the grid, from what is remembered."""
    parts, (first, second) = _parts(run, position), _fits(run)
    columns = [rounded(run.full(getattr(parts, name)), 2000.0) for name in _PART_NAMES]
    columns += [supply]
    columns += [
        rounded(run.full(np.asanyarray(v)), 500.0) for f in (first, second) for v in (f.kg1, f.emission_share)
    ]
    columns += [run.full(value) for value in (control_v, _kind(run, "oscillator"), _kind(run, "oscillator-2"))]
    return dict(zip(_RESULT_NAMES, _MEMO(np.stack(columns, axis=1)).T, strict=True))


def _near_v(run: Run, supply: Floats) -> Floats:
    """Return the supply to compute with: on a grid of steps about the nominal rail."""
    nominal = _nominal_v(run.chassis)
    return np.asanyarray(nominal * np.exp(np.rint(np.log(supply / nominal) * _SUPPLY_STEPS) / _SUPPLY_STEPS))


def _nominal_v(chassis: Chassis) -> float:
    return chassis.rails["rail-horizontal"].nominal_v if "rail-horizontal" in chassis.rails else 220.0


def _kind(run: Run, role: str) -> float:
    name = tube_type(run, _STAGE, role)
    return float(_KINDS.index(name)) if name in _KINDS else 0.0


def _compute(rows: Floats) -> Floats:
    """Return the multivibrator for rows of rounded arguments."""
    columns = list(rows.T)
    n = len(_PART_NAMES)
    parts = dict(zip(_PART_NAMES, columns[:n], strict=True))
    supply, kg1, emitted, kg2, emitted2, control, kind, kind2 = columns[n:]
    first = replace(triode_fit(_KINDS[int(kind[0])], 1.0), kg1=kg1, emission_share=emitted)
    second = replace(triode_fit(_KINDS[int(kind2[0])], 1.0), kg1=kg2, emission_share=emitted2)
    found = multivibrator(MultivibratorParts(**parts), first, second, supply, control)
    return np.stack([np.asanyarray(getattr(found, name), dtype=float) for name in _RESULT_NAMES], axis=1)


_MEMO = RowMemo(_compute)


def _alive(run: Run) -> NDArray[np.bool_]:
    """Return where nothing else stops the oscillator."""
    batch = run.batch
    alive = run.inner["rail:horizontal"] > 40.0
    for role in ("oscillator", "oscillator-2"):
        alive = alive & (emission(run, _STAGE, role) > 0.03)
        alive = alive & (batch.parameter(_STAGE, role, "leakage_ohm") > 1e5)
        alive = alive & (batch.contact(_STAGE, role) < 1e5)
    whole = np.asanyarray(batch.opened(_STAGE, "stabilizing-coil") < 1e5)
    return np.asanyarray(alive & whole & (batch.leak(_STAGE, "coupling") > 20e3), dtype=bool)


def _points(run: Run, found: dict[str, Floats], alive: NDArray[np.bool_]) -> None:
    def at_set(name: str) -> Floats:
        return found[name]

    saw = np.where(alive, at_set("sawtooth_v"), 0.0)
    run.keep(line_saw_v=saw, line_discharge_s=at_set("discharge_s"))
    run.keep(line_fire_v=at_set("fire_v"), line_lowest_v=at_set("lowest_grid_v"))
    rail, load = run.inner["rail:horizontal"], run.batch.ohms(_STAGE, "plate-load-2")
    second = emission(run, _STAGE, "oscillator-2")
    still = np.where(second > 0.02, rail * 12e3 / (12e3 + load), rail)
    lowest = at_set("lowest_grid_v")
    mean = np.where(alive, 0.55 * lowest + 0.45 * at_set("fire_v"), at_set("cathode_v") * 0.0)
    run.put("horizontal-oscillator-plate", "dc", np.where(alive, 30.0 + 0.55 * saw, still), np.minimum(load, 1e7))
    run.put("horizontal-oscillator-plate", "pp", saw)
    grid_ohm = run.batch.ohms(_STAGE, "grid-resistor") + run.batch.ohms(_STAGE, "hold", 0.0) * 0.5
    run.put("horizontal-oscillator-grid", "dc", mean, np.minimum(grid_ohm, 1e7))
    run.put("horizontal-oscillator-grid", "pp", np.where(alive, at_set("cathode_v") - lowest, 0.0))
    first_a = (rail - at_set("first_plate_v")) / np.maximum(run.batch.ohms(_STAGE, "plate-load"), 1.0)
    run.keep(oscillator_a=np.maximum(first_a, 0.0) + 0.6 * rail / np.maximum(load, 1.0))


def drive(run: Run) -> None:
    """Bring the sawtooth with its pulse to the output tube and find bias and currents there."""
    stage, batch = "horizontal-drive", run.batch
    saw = run.inner["line_saw_v"]
    peaking = batch.ohms(stage, "peaking", 0.0)
    pulse = saw * np.minimum(peaking / (peaking + run.figure("discharge_ohm", 9e3)), 0.9)
    run.put("horizontal-drive", "pp", saw + pulse)
    coupling = batch.farads(stage, "coupling")
    short = batch.parameter(_OUTPUT, "output", "leakage_ohm")
    leak = batch.ohms(_OUTPUT, "grid-leak")
    kept = short / (short + 30e3) * leak / (leak + 2 * batch.contact(_OUTPUT, "output"))
    at_grid = run.calc(
        drive_at_grid_v, "drive at the output grid", sawtooth_v=saw, coupling_f=coupling, shunt_f=_GRID_STRAY_F
    )
    passed = coupling / (coupling + _GRID_STRAY_F)
    _output_grid(run, np.asanyarray(at_grid * kept), np.asanyarray(pulse * passed * kept), leak)


def _output_grid(run: Run, ramp: Floats, pulse: Floats, leak: Value) -> None:
    batch = run.batch
    tube = emission(run, _OUTPUT, "output")
    screen = run.inside("output_screen_v", run.figure("output_screen_v", 150.0))
    run.keep(output_screen_used_v=screen)
    found = run.calc(
        output_drive,
        "output tube",
        circuit=_grid_circuit(run, ramp, pulse, leak),
        screen_v=np.maximum(screen, 0.0),
        screen_mu=run.figure("output_screen_mu", 4.3),
        tube_perv=run.figure("output_perveance", 1.35e-3) * np.sqrt(np.maximum(tube, 0.0)),
        cathode_ohm=np.maximum(batch.ohms(_OUTPUT, "cathode", 1e-3), 1e-3),
    )
    dead = smooth_step(-tube, -0.02, 0.0)
    bias = np.asanyarray(found.grid_v) * (1.0 - dead) + dead * (-0.5 * ramp)
    contact = 1.0 / (1.0 + batch.contact(_OUTPUT, "output") / 800.0)
    most = run.figure("output_saturates_a", 0.9)
    run.keep(
        output_bias_v=bias,
        output_drive_v=ramp + pulse,
        output_useful_a=np.minimum(np.asanyarray(found.pulsed_a) * contact, 0.4 * most),
        output_steady_a=np.minimum(np.asanyarray(found.steady_a) * contact, 0.5 * most),
        output_peak_a=np.minimum(np.asanyarray(found.peak_a) * contact, most),
        output_mean_a=np.minimum(np.asanyarray(found.cathode_a) * contact, 0.6 * most),
    )
    run.put("horizontal-output-grid", "dc", bias, 0.12 * np.minimum(leak, 1e8))
    run.put("horizontal-output-grid", "pp", ramp + pulse)


def _grid_circuit(run: Run, ramp: Floats, pulse: Floats, leak: Value) -> GridCircuit:
    gas = run.batch.parameter(_OUTPUT, "output", "gas_a")
    return GridCircuit(
        drive_v=np.maximum(ramp, 0.0),
        leak_ohm=leak,
        trace_share=np.clip(1.0 - run.inner["line_discharge_s"] * line_rate(run), 0.6, 0.97),
        pulse_v=np.maximum(pulse, 0.0),
        coupling_leak_ohm=run.batch.leak("horizontal-drive", "coupling"),
        leak_from_v=run.values["horizontal-oscillator-plate.dc"],
        return_v=gas * np.minimum(leak, 5e6),
    )
