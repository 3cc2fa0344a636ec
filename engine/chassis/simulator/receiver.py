# SPDX-License-Identifier: MIT
"""From the source to the detector: tuner, IF, AGC loop, detector.

Signal levels are ratios to the healthy set's; the AGC loop is solved.
Limits: alignment is one gain; adjacent channels and ghosts are left out.
Sources: shares of gain are common practice, from memory, to verify; the arithmetic is that of a divider
chain with an exponential gain control.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import divided_v, parallel_ohm, smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.circuits.agc import AgcState, keyed_agc, simple_agc
from backporch.engine.circuits.agc_levels import overload, snow

__all__ = ["agc_loop", "socket_gain"]

Floats = NDArray[np.float64]

_GAIN_V = 64.0
"""Detected volts that the healthy set would make without AGC."""
_HEALTHY_V = 3.5
_AGC_PER_V = 0.97
"""Gain control, nepers per volt, of all controlled tubes together."""
_AGC_GRIDS_OHM = 60e6
"""What the grids on the AGC line and its insulation amount to."""
_LIMIT_V = 8.5
"""Detected volts at which the last IF tube limits."""
_UNBYPASSED = 0.15
"""Gain that an IF stage keeps without its screen bypass; our judgement."""
_GATE_PULSE_V = 350.0
_INPUT_V = 1e-3
_TUNER_GAIN = 10.0
_NOISE_FACTORS = (4.0, 26.0, 3.0)
"""Noise factors of first tube, mixer and first IF tube; from memory, to verify."""


def _incoming(run: Run) -> None:
    """Find the signal that comes to the set, and how good its sync is."""
    batch, stage = run.batch, "signal-source"
    proved = "source" in run.bench.clamps
    level: Value = batch.parameter(stage, "source", "gain") * batch.parameter(stage, "lead", "gain")
    sync = batch.parameter(stage, "source", "present")
    if proved:
        level, sync = 1.0, 1.0
    if run.bench.signal == "none":
        level = 0.0
    run.keep(source_level=level, source_sync=sync)
    run.keep(mark_source=np.where((run.full(level) < 0.5) | (run.full(sync) < 0.9), 1.0, 0.0))


def _tuner_gain(run: Run) -> Floats:
    """Return the gain of the tuner over that of the healthy set."""
    batch, stage = run.batch, "tuner"
    gain = smooth_step(_tuner_supply(run) / (run.chassis.rails["rail-tuner"].nominal_v * 0.84), 0.3, 1.0)
    for role in ("rf", "oscillator", "mixer"):
        if batch.has(stage, role):
            power = 2.5 if role == "oscillator" else 0.9
            gain = gain * np.minimum(emission(run, stage, role), 1.15) ** power * socket_gain(run, stage, role)
    gain = gain * np.where(emission(run, stage, "oscillator") < 0.25, 0.003, 1.0)
    gain = gain * _antenna_gain(run) / (1.0 + batch.contact(stage, "channel-contacts") / 40.0)
    tuning = np.exp(-((np.abs(run.position(stage, "fine-tuning") - 0.5) / 0.28) ** 2))
    run.keep(tuner_gain=gain, fine_tuning=tuning)
    return run.full(gain * (0.25 + 0.75 * tuning))


def _tuner_supply(run: Run) -> Value:
    batch, stage = run.batch, "tuner"
    load = run.chassis.rails["rail-tuner"].nominal_v / run.figure("tuner_current_a", 0.026)
    lower = parallel_ohm(load, batch.leak(stage, "plate-bypass"))
    feed = batch.ohms(stage, "plate-feed")
    volts: Value = run.calc(
        divided_v, "tuner B+", supply_v=run.inner["rail:tuner"], upper_ohm=feed, lower_ohm=lower
    )
    run.put("tuner-b-plus", "dc", volts)
    return volts


def _antenna_gain(run: Run) -> Value:
    batch, stage = run.batch, "tuner"
    opened = batch.opened(stage, "antenna-coil")
    coil = np.where(opened > 1e6, 0.02, 1.0 / np.sqrt(1.0 + opened / 3e5))
    core = 1.0 / (1.0 + 6.0 * np.abs(batch.parameter(stage, "antenna-coil", "inductance") - 1.0))
    return coil * core * (1.0 - 0.8 * batch.parameter(stage, "antenna-coil", "turns_shorted"))


def socket_gain(run: Run, stage: str, role: str) -> Floats:
    """Return what a bad contact or a short from grid to cathode leaves of a tube's gain."""
    contact = run.batch.contact(stage, role)
    short = run.batch.parameter(stage, role, "leakage_ohm")
    return run.full(1.0 / (1.0 + contact / 20e3) * short / (short + 20e3))


def _if_gain(run: Run, agc_v: Value) -> Floats:
    """Return the gain of the IF amplifier over that of the healthy set, and set its points."""
    batch, stage = run.batch, "if-amplifier"
    gain: Value = 1.0
    for n in (1, 2, 3):
        if not batch.has(stage, f"amplifier-{n}"):
            continue
        gain = gain * _if_stage(run, n, agc_v if n < 3 else 0.0)
        transformer = f"transformer-{n}"
        joined = batch.parameter(stage, transformer, "gain") / (1.0 + batch.opened(stage, transformer) / 5e4)
        leak = batch.leak(stage, transformer)
        gain = gain * np.abs(joined) * leak / (leak + 4e3)
    return run.full(gain)


def _if_stage(run: Run, n: int, agc_v: Value) -> Floats:
    """Return the gain of one IF stage over that of a healthy one, and set its points."""
    batch, stage, role = run.batch, "if-amplifier", f"amplifier-{n}"
    nominal = run.chassis.rails["rail-tuner"].nominal_v
    wanted = _if_current(run, n, agc_v)
    lower = parallel_ohm(nominal / np.maximum(wanted, 1e-7), batch.leak(stage, f"bypass-{n}"))
    feed = batch.ohms(stage, f"feed-{n}")
    screen = run.calc(
        divided_v, f"IF {n} screen", supply_v=run.inner["rail:tuner"], upper_ohm=feed, lower_ohm=lower
    )
    share = np.minimum(screen / nominal, 1.3)
    actual = wanted * share
    cathode = batch.ohms(stage, f"cathode-{n}", 100.0)
    run.put(f"if-{n}-screen", "dc", screen, feed)
    run.put(f"if-{n}-plate", "dc", np.where(batch.opened(stage, f"transformer-{n}") > 1e5, 2.0, screen))
    run.put(f"if-{n}-cathode", "dc", actual * cathode, cathode)
    run.inner[f"if_{n}_a"] = run.full(actual)
    bypass = batch.farads(stage, f"bypass-{n}", 1e-9)
    rated = run.figure(f"if_{n}_current_a", 0.0125)
    gain = smooth_step(share, 0.1, 0.9) * np.minimum(actual / rated, 1.3) ** 0.6 / np.exp(0.13 * agc_v)
    bypassed = _UNBYPASSED + (1.0 - _UNBYPASSED) * bypass / (bypass + 6e-11)
    return run.full(gain * socket_gain(run, stage, role) * bypassed)


def _if_current(run: Run, n: int, agc_v: Value) -> Value:
    """Return the cathode current of an IF tube at the nominal rail."""
    batch, stage, role = run.batch, "if-amplifier", f"amplifier-{n}"
    design = batch.value(stage, f"cathode-{n}", 100.0)
    cathode = batch.ohms(stage, f"cathode-{n}", 100.0)
    degenerated = (1 + 0.006 * design) / (1 + 0.006 * cathode)
    contact = 1.0 + batch.contact(stage, role) / 15e3
    rated = run.figure(f"if_{n}_current_a", 0.0125)
    return rated * emission(run, stage, role) * np.exp(0.22 * agc_v) * degenerated / contact


def agc_loop(run: Run) -> None:
    """Solve the loop of AGC and gain: detected volts, AGC volts, overload and snow."""
    _incoming(run)
    tuner, amplifier = _tuner_gain(run), _if_gain(run, -1.0)
    front = tuner * amplifier
    state = _settled(run, front)
    level, line = run.full(state.video_v), run.full(state.agc_v)
    _if_gain(run, line)
    crushed = _detector(run, level)
    _agc_points(run, line)
    noise = run.calc(
        snow,
        "snow",
        input_v=_INPUT_V * run.inner["source_level"],
        tuner_gain=_TUNER_GAIN * run.inner["tuner_gain"],
    )
    idle = smooth_step(np.log10(np.maximum(amplifier * _idle_noise(run, tuner), 1e-6)), -1.6, -0.5)
    run.show(
        snow=np.minimum(np.clip(4.0 * np.asanyarray(noise.snow_share), 0.0, 1.0), idle),
        snow_without_signal=idle,
        overload=crushed,
    )
    clamped = run.inner["source_level"] * front * _GAIN_V * np.exp(_AGC_PER_V * -3.0)
    away, back = (np.abs(np.log(np.maximum(v, 1e-3) / _HEALTHY_V)) for v in (level, clamped))
    run.keep(agc_clamp_cures=np.where((away > 0.5) & (back < 0.6), 1.0, 0.0), if_level=level)


def _idle_noise(run: Run, tuner: Floats) -> Floats:
    """Return the noise that enters the IF amplifier without a signal, over that of a healthy set.

    Noise powers of the first tube, of the mixer and of the first IF tube, each at the input of its own stage.
    """
    supplied = smooth_step(run.values["tuner-b-plus.dc"] / run.chassis.rails["rail-tuner"].nominal_v, 0.2, 0.6)
    mixer = np.minimum(emission(run, "tuner", "mixer" if run.batch.has("tuner", "mixer") else "oscillator"), 1.0)
    first, second, third = _NOISE_FACTORS
    power = first * (_TUNER_GAIN * tuner) ** 2 + second * supplied * mixer + third
    return np.asanyarray(np.sqrt(power / (first * _TUNER_GAIN**2 + second + third)), dtype=float)


def _settled(run: Run, front: Floats) -> AgcState:
    """Return the receiver with its AGC settled."""
    batch, stage = run.batch, "agc"
    if "agc" in run.bench.clamps:
        level = run.inner["source_level"] * front * _GAIN_V * np.exp(_AGC_PER_V * -3.0)
        return AgcState(level, run.full(-3.0), run.full(1.0), run.full(0.0))
    tuner_path = batch.ohms(stage, "tuner-resistor", 1e9) + batch.leak(stage, "tuner-capacitor")
    to_ground = parallel_ohm(parallel_ohm(batch.leak(stage, "filter-capacitor"), tuner_path), _AGC_GRIDS_OHM)
    board = batch.leak("rail-decoupling", "tag-strip")
    leak = parallel_ohm(to_ground, board)
    gas = sum(batch.parameter("if-amplifier", f"amplifier-{n}", "gas_a") for n in (1, 2))
    path = {
        "input_v": run.inner["source_level"],
        "full_gain": np.maximum(front * _GAIN_V, 1e-9),
        "control_per_v": _AGC_PER_V,
        "line_ohm": batch.ohms(stage, "filter-resistor") + 0.1 * batch.ohms(stage, "load", 2.2e6),
        "leak_ohm": leak,
        "leak_to_v": run.inner["b_plus_volts"] * leak / board,
        "gas_a": gas + 0.5 * batch.parameter("tuner", "rf", "gas_a"),
    }
    gated = run.circuit(stage) == "gated"
    found: AgcState = run.calc(keyed_agc if gated else simple_agc, "AGC", **path, **_agc_tube(run, gated))
    return found


def _agc_tube(run: Run, gated: bool) -> dict[str, Value]:
    """Return what AGC tube, rectifier or mean level make of the detected signal."""
    if not gated:
        return {"efficiency": _rectified(run)}
    batch, stage = run.batch, "agc"
    tube = np.minimum(emission(run, stage, "amplifier"), 1.2) * socket_gain(run, stage, "amplifier")
    joined = batch.farads(stage, "pulse-coupling", 1e-6)
    passed = joined / (joined + 20e-12) * smooth_step(batch.leak(stage, "pulse-coupling"), 0.0, 3e5)
    pulse = _GATE_PULSE_V * run.inner["pulse_v"] / run.figure("nominal_pulse_v", 2300.0) * passed
    run.put("agc-gate-pulse", "pp", pulse)
    reached = 1.0 / (1.0 + batch.ohms(stage, "coupling", 1e-3) / 1e6)
    screen = 1.0 / (1.0 + batch.ohms(stage, "screen-dropper", 1.0) / 3e6)
    return {
        "threshold_v": np.maximum(3.25 + 2.2 * (run.position(stage, "threshold") - 0.5), 0.1) * reached,
        "gm_a_per_v": 1.5e-3 * tube * screen,
        "pulse_v": np.maximum(pulse, 0.0),
        "pulse_s": np.full(1, 8e-6),
        "line_hz": run.inner["line_hz"],
        "load_ohm": batch.ohms(stage, "load"),
        "level_gain": reached,
    }


def _rectified(run: Run) -> Value:
    """Return AGC volts per detected volt of a rectifier or of the mean level."""
    batch, stage = run.batch, "agc"
    rectified: Value = 1.0
    if batch.has(stage, "rectifier"):
        short = batch.parameter(stage, "rectifier", "leakage_ohm")
        rectified = np.minimum(emission(run, stage, "rectifier"), 1.0) ** 0.3 * short / (short + 50e3)
    coupled: Value = 1.0
    if batch.has(stage, "coupling"):
        farads = batch.farads(stage, "coupling")
        coupled = 1.1 * farads / (farads + 1e-12) * smooth_step(batch.leak(stage, "coupling"), 0.0, 1e5)
    load = batch.ohms(stage, "load", 2.2e6)
    return 0.85 * rectified * coupled * load / (load + 0.15e6)


def _agc_points(run: Run, line: Floats) -> None:
    batch, stage = run.batch, "agc"
    run.put("agc-line", "dc", line, batch.ohms(stage, "filter-resistor"))
    series = batch.ohms(stage, "tuner-resistor", 1.0)
    leak = parallel_ohm(batch.leak(stage, "tuner-capacitor"), _AGC_GRIDS_OHM)
    tuner = line * leak / (leak + series) + batch.parameter("tuner", "rf", "gas_a") * np.minimum(series, 5e6)
    run.put("tuner-agc", "dc", np.minimum(tuner, 0.9), series)
    filter_f = batch.farads(stage, "filter-capacitor")
    run.keep(agc_fast=1.0 - filter_f / (filter_f + 2e-9))


def _detector(run: Run, level: Floats) -> Floats:
    """Detect: size and sense of what comes out, how much of it is sync; return how much sync is crushed."""
    batch, stage = run.batch, "video-detector"
    load, design = batch.ohms(stage, "load"), batch.value(stage, "load", 3.9e3)
    size = load / (load + 600.0) * (design + 600.0) / design * _detector_path(run)
    negative = run.chassis.modulation == "negative"
    shares = {} if negative else {"tip_share": 0.0, "blank_share": 0.3, "white_share": 1.0}
    found = run.calc(overload, "last IF stage and detector", detected_v=level, limit_v=_LIMIT_V, **shares)
    peak = np.asanyarray(found.peak_v) * size
    crushed = np.asanyarray(found.crush_share)
    kept = np.maximum(1.0 - crushed, 0.02) if negative else np.ones(1)
    run.keep(
        detected_v=peak,
        sync_share=kept * run.inner["source_sync"] * (0.25 if negative else 0.3),
        low_load=load / design,
    )
    run.put("video-detector-output", "dc", peak * (-0.62 if negative else 0.5))
    run.put("video-detector-output", "pp", np.abs(peak) * (0.875 if negative else 1.0))
    return run.full(crushed if negative else smooth_step(level, _LIMIT_V, 1.7 * _LIMIT_V))


def _detector_path(run: Run) -> Value:
    """Return what diode, filter and coil let through; negative for a diode the wrong way round."""
    batch, stage = run.batch, "video-detector"
    shorted = batch.parameter(stage, "diode", "leakage_ohm")
    leak = parallel_ohm(batch.leak(stage, "filter"), 1e9)
    diode = batch.parameter(stage, "diode", "gain") / (1.0 + batch.opened(stage, "diode") / 2e5)
    coil = 1.0 / (1.0 + batch.opened(stage, "peaking") / 1e4)
    return diode * shorted / (shorted + 3e3) * leak / (leak + 2e3) * coil
