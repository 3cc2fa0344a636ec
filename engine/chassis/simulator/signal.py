# SPDX-License-Identifier: MIT
"""From the source to the video plate: tuner, IF, detector, AGC, video amplifier, sound.

Signal levels are ratios to the healthy set's; the AGC loop is solved, the video tube is followed at sync
tip, blanking and white.
Limits: alignment is one gain; adjacent channels and ghosts are left out.
Sources: common practice for the shares of gain, from memory, to verify; the arithmetic is that of a
divider chain with an exponential gain control.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.simulator.basics import Value, divided_v, parallel_ohm, smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.power import emission

__all__ = ["agc_loop", "sound", "stage_currents", "video"]

Floats = NDArray[np.float64]

_GAIN_V = 64.0
"""Detected volts that the healthy set would make without AGC."""
_AGC_PER_V = 0.97
"""Gain control, nepers per volt, of all controlled tubes together."""
_AGC_GRIDS_OHM = 60e6
"""What the grids on the AGC line and its insulation amount to."""


def incoming(run: Run) -> None:
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


def tuner_gain(run: Run) -> Floats:
    """Return the gain of the tuner over that of the healthy set."""
    batch, stage = run.batch, "tuner"
    feed = batch.ohms(stage, "plate-feed")
    load = run.chassis.rails["rail-tuner"].nominal_v / run.figure("tuner_current_a", 0.026)
    tubes = [role for role in ("rf", "oscillator", "mixer") if batch.has(stage, role)]
    lower = parallel_ohm(load, batch.leak(stage, "plate-bypass"))
    volts = run.calc(divided_v, "tuner B+", supply_v=run.inner["rail:tuner"], upper_ohm=feed, lower_ohm=lower)
    run.put("tuner-b-plus", "dc", volts)
    gain = smooth_step(volts / (run.chassis.rails["rail-tuner"].nominal_v * 0.84), 0.3, 1.0)
    for role in tubes:
        power = 2.5 if role == "oscillator" else 0.9
        gain = gain * np.minimum(emission(run, stage, role), 1.15) ** power * _socket(run, stage, role)
    gain = gain * np.where(emission(run, stage, "oscillator") < 0.25, 0.003, 1.0)
    coil = 1.0 / (1.0 + batch.opened(stage, "antenna-coil") / 3e5) ** 0.5
    coil = np.where(batch.opened(stage, "antenna-coil") > 1e6, 0.02, coil) * 1.0
    core = 1.0 / (1.0 + 6.0 * np.abs(batch.parameter(stage, "antenna-coil", "inductance") - 1.0))
    core = core * (1.0 - 0.8 * batch.parameter(stage, "antenna-coil", "turns_shorted"))
    contacts = 1.0 / (1.0 + batch.contact(stage, "channel-contacts") / 40.0)
    tuning = np.exp(-((np.abs(run.position(stage, "fine-tuning") - 0.5) / 0.28) ** 2))
    run.keep(tuner_gain=gain * coil * core * contacts, fine_tuning=tuning)
    return run.full(gain * coil * core * contacts * (0.25 + 0.75 * tuning))


def _socket(run: Run, stage: str, role: str) -> Floats:
    """Return what a bad contact or a short from grid to cathode leaves of a tube's gain."""
    contact = run.batch.contact(stage, role)
    short = run.batch.parameter(stage, role, "leakage_ohm")
    return run.full(1.0 / (1.0 + contact / 20e3) * short / (short + 20e3))


def if_gain(run: Run, agc_v: Value) -> Floats:
    """Return the gain of the IF amplifier over that of the healthy set, and set its points."""
    batch, stage = run.batch, "if-amplifier"
    gain: Value = 1.0
    for n in (1, 2, 3):
        if not batch.has(stage, f"amplifier-{n}"):
            continue
        gain = gain * _if_stage(run, n, agc_v if n < 3 else 0.0)
        transformer = f"transformer-{n}"
        coupling = (
            1.0 / (1.0 + batch.opened(stage, transformer) / 5e4) * batch.parameter(stage, transformer, "gain")
        )
        leak = batch.leak(stage, transformer)
        gain = gain * np.abs(coupling) * leak / (leak + 4e3)
    return run.full(gain)


def _if_stage(run: Run, n: int, agc_v: Value) -> Floats:
    batch, stage, role = run.batch, "if-amplifier", f"amplifier-{n}"
    tube = emission(run, stage, role)
    nominal = run.chassis.rails["rail-tuner"].nominal_v
    feed = batch.ohms(stage, f"feed-{n}")
    open_plate = batch.opened(stage, f"transformer-{n}") > 1e5
    cathode = batch.ohms(stage, f"cathode-{n}", 100.0)
    rated = run.figure(f"if_{n}_current_a", 0.0125)
    base = run.batch.value(stage, f"cathode-{n}", 100.0)
    current = rated * tube * np.exp(0.22 * agc_v) * (1 + 0.006 * base) / (1 + 0.006 * cathode)
    current = current / (1.0 + batch.contact(stage, role) / 15e3)
    load = nominal / np.maximum(current, 1e-7)
    lower = parallel_ohm(load, batch.leak(stage, f"bypass-{n}"))
    screen = run.calc(
        divided_v, f"IF {n} screen", supply_v=run.inner["rail:tuner"], upper_ohm=feed, lower_ohm=lower
    )
    share = np.minimum(screen / nominal, 1.3)
    actual = current * share
    run.put(f"if-{n}-screen", "dc", screen, feed)
    run.put(f"if-{n}-plate", "dc", np.where(open_plate, 2.0, screen))
    run.put(f"if-{n}-cathode", "dc", actual * cathode, cathode)
    run.inner[f"if_{n}_a"] = run.full(actual)
    bypass = batch.farads(stage, f"bypass-{n}", 1e-9)
    gain = smooth_step(share, 0.1, 0.9) * np.minimum(actual / rated, 1.3) ** 0.6 / np.exp(0.13 * agc_v)
    return run.full(gain * _socket(run, stage, role) * bypass / (bypass + 6e-11))


def agc_loop(run: Run) -> None:
    """Solve the loop of AGC and gain: detected volts, AGC volts, overload and snow."""
    incoming(run)
    front = tuner_gain(run)
    gain = if_gain(run, -1.0) * 1.0
    signal = run.inner["source_level"] * front * gain * _GAIN_V
    path = _agc_path(run)
    low, high = np.zeros(run.batch.draws), np.full(run.batch.draws, 60.0)
    for _ in range(24):
        middle = 0.5 * (low + high)
        more = signal * np.exp(np.clip(_AGC_PER_V * path.line(middle), -30, 3)) > middle
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    before = 0.5 * (low + high)
    line = run.full(path.line(before))
    if_gain(run, line)
    _detector(run, before)
    _agc_points(run, line)
    noise = front * gain
    run.show(
        snow=np.clip(
            0.02 / np.maximum(run.inner["source_level"] * run.inner["tuner_gain"] ** 0.7, 1e-4), 0.0, 1.0
        ),
        snow_without_signal=smooth_step(np.log10(np.maximum(noise, 1e-6)), -1.6, -0.5),
        overload=smooth_step(before, 7.0, 14.0),
    )
    clamped = signal * np.exp(_AGC_PER_V * -3.0)
    away = np.abs(np.log(np.maximum(before, 1e-3) / 3.5)) > 0.5
    better = np.abs(np.log(np.maximum(clamped, 1e-3) / 3.5)) < 0.6
    run.keep(agc_clamp_cures=np.where(away & better, 1.0, 0.0), if_level=before)


@dataclass(frozen=True)
class _AgcPath:
    """How the AGC line follows the detected level: nothing up to a threshold, then a slope."""

    slope: Value
    threshold: Value
    offset: Value

    def line(self, detected: Value) -> Value:
        """Return the voltage of the line; its grids clip what would go positive."""
        volts = self.offset - self.slope * np.maximum(detected - self.threshold, 0.0)
        return np.minimum(volts, 0.8 + 0.05 * volts)


def _agc_path(run: Run) -> _AgcPath:
    """Return the way from the detected level to the AGC line."""
    if "agc" in run.bench.clamps:
        return _AgcPath(0.0, 0.0, -3.0)
    batch, stage = run.batch, "agc"
    made, threshold = _gated(run) if run.circuit(stage) == "gated" else (_rectified(run), 0.0)
    feed = batch.ohms(stage, "filter-resistor") + 0.1 * batch.ohms(stage, "load", 2.2e6)
    tuner_path = batch.ohms(stage, "tuner-resistor", 1e9) + batch.leak(stage, "tuner-capacitor")
    down = parallel_ohm(parallel_ohm(batch.leak(stage, "filter-capacitor"), tuner_path), _AGC_GRIDS_OHM)
    inner = parallel_ohm(feed, down)
    gas = sum(batch.parameter("if-amplifier", f"amplifier-{n}", "gas_a") for n in (1, 2))
    gas = gas + 0.5 * batch.parameter("tuner", "rf", "gas_a")
    board = batch.leak("rail-decoupling", "tag-strip")
    offset = gas * inner + run.inner["b_plus_volts"] * inner / (inner + board)
    return _AgcPath(made * down / (down + feed), threshold, offset)


def _rectified(run: Run) -> Value:
    """Return AGC volts per detected volt of a rectifier or of the mean level."""
    batch, stage = run.batch, "agc"
    rectified: Value = 1.0
    if batch.has(stage, "rectifier"):
        rectified = np.minimum(emission(run, stage, "rectifier"), 1.0) ** 0.3
    coupled: Value = 1.0
    if batch.has(stage, "coupling"):
        farads = batch.farads(stage, "coupling")
        coupled = 1.1 * farads / (farads + 1e-12) * smooth_step(batch.leak(stage, "coupling"), 0.0, 1e5)
    load = batch.ohms(stage, "load", 2.2e6)
    return 0.85 * rectified * coupled * load / (load + 0.15e6)


def _gated(run: Run) -> tuple[Value, Value]:
    """Return slope and threshold of a gated AGC tube: current only while flyback pulse and sync coincide."""
    batch, stage = run.batch, "agc"
    tube = np.minimum(emission(run, stage, "amplifier"), 1.2) * _socket(run, stage, "amplifier")
    pulse = run.inner["pulse_v"] / run.figure("nominal_pulse_v", 2300.0)
    joined = batch.farads(stage, "pulse-coupling", 1e-6)
    pulse = pulse * joined / (joined + 20e-12) * smooth_step(batch.leak(stage, "pulse-coupling"), 0.0, 3e5)
    run.put("agc-gate-pulse", "pp", 350.0 * pulse)
    reached = 1.0 / (1.0 + batch.ohms(stage, "coupling", 1e-3) / 1e6)
    screen = batch.ohms(stage, "screen-dropper", 1.0)
    strength = 2.9 * tube**0.5 * np.minimum(pulse, 1.1) / (1.0 + screen / 3e6)
    load = batch.ohms(stage, "load", 2.2e6) / batch.value(stage, "load", 2.2e6)
    threshold = 2.4 + 2.2 * (run.position(stage, "threshold") - 0.5)
    return strength * reached * np.minimum(load, 1.4), threshold / reached


def _agc_points(run: Run, line: Floats) -> None:
    batch, stage = run.batch, "agc"
    run.put("agc-line", "dc", line, batch.ohms(stage, "filter-resistor"))
    series = batch.ohms(stage, "tuner-resistor", 1.0)
    leak = parallel_ohm(batch.leak(stage, "tuner-capacitor"), 60e6)
    tuner = line * leak / (leak + series) + batch.parameter("tuner", "rf", "gas_a") * np.minimum(series, 5e6)
    run.put("tuner-agc", "dc", np.minimum(tuner, 0.9), series)
    filter_f = batch.farads(stage, "filter-capacitor")
    fast = 1.0 - filter_f / (filter_f + 2e-9)
    run.keep(agc_fast=fast, agc_v=line)


def _detector(run: Run, level: Floats) -> None:
    batch, stage = run.batch, "video-detector"
    diode = batch.parameter(stage, "diode", "gain")
    through = 1.0 / (1.0 + batch.opened(stage, "diode") / 2e5)
    shorted = batch.parameter(stage, "diode", "leakage_ohm")
    load = batch.ohms(stage, "load")
    base = batch.value(stage, "load", 3.9e3)
    size = load / (load + 600.0) * (base + 600.0) / base
    leak = parallel_ohm(batch.leak(stage, "filter"), 1e9)
    size = size * leak / (leak + 2e3)
    coil = 1.0 / (1.0 + batch.opened(stage, "peaking") / 1e4)
    size = size * diode * through * shorted / (shorted + 3e3) * coil
    crushed = level / (1.0 + (level / 14.0) ** 2) ** 0.5
    peak = crushed * size
    sync = np.clip(1.0 - smooth_step(level, 6.5, 14.0) * 0.95, 0.05, 1.0) * run.inner["source_sync"]
    sync = sync * (0.25 if run.chassis.modulation == "negative" else 0.3)
    run.keep(detected_v=peak, sync_share=sync, detector_dead=np.abs(size) < 0.02)
    negative = run.chassis.modulation == "negative"
    modulated = 0.875 if negative else 1.0
    run.put("video-detector-output", "dc", peak * (-0.62 if negative else 0.5))
    run.put("video-detector-output", "pp", np.abs(peak) * modulated)
    run.keep(low_load=load / base)


def video(run: Run) -> None:
    """Follow sync tip, blanking and white through the video tube."""
    batch, stage = run.batch, "video-output"
    peak = run.inner["detected_v"]
    share = run.inner["sync_share"]
    levels = _grid_levels(run, peak, share)
    screen = _video_screen(run)
    currents = {name: _video_current(run, level, screen) for name, level in levels.items()}
    load = _plate_load(run)
    rail = run.inner["rail:video"]
    plate = {name: np.maximum(rail - current * load, 0.07 * rail) for name, current in currents.items()}
    cathode = batch.ohms(stage, "cathode")
    gas = batch.parameter(stage, "amplifier", "gas_a")
    run.put("video-grid", "dc", levels["mean"] + gas * 5e3, 3.9e3)
    run.put("video-grid", "pp", np.abs(peak) * 0.875)
    run.put("video-cathode", "dc", 1.2 * currents["mean"] * cathode, cathode)
    run.put("video-plate", "dc", plate["mean"])
    pp = plate["tip"] - plate["white"]
    run.put("video-plate", "pp", np.abs(pp))
    run.keep(
        video_tip_v=plate["tip"],
        video_sync_v=plate["tip"] - plate["blank"],
        video_pp_v=pp,
        video_mean_v=plate["mean"],
        video_a=1.2 * currents["mean"],
        video_gain=np.abs(plate["blank"] - plate["white"]) / np.maximum(np.abs(peak) * 0.6, 0.02),
    )
    _video_quality(run, load)
    _video_hum(run, load)


def _grid_levels(run: Run, peak: Value, share: Value) -> dict[str, Value]:
    """Return the levels at the grid: sync negative-going in both senses of modulation."""
    if run.chassis.modulation == "negative":
        return {"tip": -peak, "blank": -peak * (1.0 - share), "white": -peak * 0.125, "mean": -peak * 0.62}
    bias = -run.figure("video_bias_v", 4.0)
    return {"tip": bias, "blank": bias + peak * share, "white": bias + peak, "mean": bias + peak * 0.5}


def _video_screen(run: Run) -> Floats:
    batch, stage = run.batch, "video-output"
    tube = np.maximum(emission(run, stage, "amplifier"), 1e-4)
    lower = parallel_ohm(run.figure("video_screen_ohm", 30e3) / tube, batch.leak(stage, "screen-bypass"))
    volts = run.calc(
        divided_v,
        "video screen",
        supply_v=run.inner["rail:video"],
        upper_ohm=batch.ohms(stage, "screen-dropper"),
        lower_ohm=lower,
    )
    run.put("video-screen", "dc", volts)
    return run.full(volts)


def _video_current(run: Run, grid_v: Value, screen_v: Floats) -> Floats:
    """Return the plate current with the drop in the cathode resistor solved for."""
    batch, stage = run.batch, "video-output"
    cathode = parallel_ohm(batch.ohms(stage, "cathode"), batch.leak(stage, "cathode-bypass"))
    cathode = cathode + batch.contact(stage, "amplifier")
    short = batch.parameter(stage, "amplifier", "leakage_ohm")
    grid = grid_v * short / (short + 4e3)
    rise = batch.parameter(stage, "amplifier", "gas_a") * 5e3
    tube = emission(run, stage, "amplifier") * run.figure("video_perveance", 5.5e-3)
    low, high = np.zeros(batch.draws), np.full(batch.draws, 0.12)
    for _ in range(22):
        middle = 0.5 * (low + high)
        more = tube * np.maximum(grid + rise - 1.2 * middle * cathode + screen_v / 30.0, 0.0) ** 1.5 > middle
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    return np.asarray(0.5 * (low + high), dtype=float)


def _plate_load(run: Run) -> Value:
    stage, batch = "video-output", run.batch
    return batch.ohms(stage, "plate-load") + batch.opened(stage, "shunt-peaking")


def _video_quality(run: Run, load: Value) -> None:
    batch, stage = run.batch, "video-output"
    base = batch.value(stage, "plate-load", 3.9e3)
    coil = 1.0 - 0.35 * batch.parameter(stage, "shunt-peaking", "turns_shorted")
    series = batch.opened("video-coupling", "series-peaking")
    damping = batch.ohms("video-coupling", "damping", 22e3)
    path = parallel_ohm(series, damping)
    trailing = smooth_step(path, 3e3, 30e3)
    detector = 1.0 / np.maximum(run.inner["low_load"], 0.2)
    sharp = np.clip(base / np.maximum(load, 1.0), 0.05, 1.6) * coil * np.minimum(detector, 1.4)
    sharp = sharp / (1.0 + path / 6e3) * (0.6 + 0.4 * run.inner["fine_tuning"])
    undamped = smooth_step(damping / 22e3, 1.6, 6.0) * (series < 1e3)
    fast = 1.0 - batch.farads(stage, "cathode-bypass", 1e-9) / (
        batch.farads(stage, "cathode-bypass", 1e-9) + 3e-10
    )
    bypass = batch.farads(stage, "screen-bypass")
    low_loss = 1.0 - bypass / (bypass + 1e-6)
    run.keep(screen_low_loss=low_loss, series_path_ohm=path)
    run.show(
        sharpness=np.clip(sharp * (1.0 - 0.25 * fast), 0.05, 2.0),
        smear=np.clip(
            0.7 * trailing
            + 0.4 * run.inner["undecoupled:video"]
            + 0.5 * low_loss
            + smooth_step(load / base, 1.5, 4.0),
            0.0,
            1.0,
        ),
        ringing=np.clip(
            undamped + smooth_step(batch.parameter(stage, "shunt-peaking", "inductance"), 1.25, 1.6), 0.0, 1.0
        ),
    )


def _video_hum(run: Run, load: Value) -> None:
    """Add up hum at the video plate: rail ripple and leaks from heater to cathode."""
    ripple = run.inner["rail_ripple:video"]
    cathode = run.batch.ohms("video-output", "cathode")
    leak = run.batch.parameter("video-output", "amplifier", "heater_cathode_ohm")
    mains_hum = 17.0 * cathode / (cathode + leak) * load / (cathode + 110.0) * 0.6
    for n in (1, 2, 3):
        leak = run.batch.parameter("if-amplifier", f"amplifier-{n}", "heater_cathode_ohm")
        mains_hum = mains_hum + 22.0 * np.minimum(120.0 / (120.0 + leak), 1.0) * np.minimum(
            run.inner["if_level"], 3.5
        )
    leak = run.batch.parameter("tuner", "rf", "heater_cathode_ohm")
    mains_hum = mains_hum + 15.0 * 120.0 / (120.0 + leak)
    run.keep(hum_rail_v=ripple, hum_mains_v=mains_hum)


def sound(run: Run) -> None:
    """Find how loud and how clean the sound is, and the points of the output stage."""
    batch, stage = run.batch, "sound"
    source = run.inner["detected_v"] if run.chassis.sound_takeoff != "split" else run.inner["if_level"]
    level = np.minimum(np.abs(source) / 0.9, 1.0)
    if run.chassis.sound_takeoff == "after-video":
        level = level * np.minimum(run.inner["video_gain"] / 4.0, 1.0)
    for role in ("limiter", "detector", "audio", "output"):
        if batch.has(stage, role):
            level = level * np.minimum(emission(run, stage, role) / 0.6, 1.0) * _socket(run, stage, role)
    feed = batch.ohms(stage, "feed", 1.0)
    level = level * smooth_step(-feed, -30e3, -3e3)
    transformer = batch.opened(stage, "detector-transformer") + batch.opened(stage, "output-transformer")
    level = level / (1.0 + transformer / 1e5) * batch.parameter(stage, "detector-transformer", "gain")
    level = level * (1.0 - batch.parameter(stage, "output-transformer", "turns_shorted"))
    coupling = batch.farads(stage, "coupling")
    level = level * coupling / (coupling + 3e-10) * smooth_step(run.position(stage, "volume"), 0.0, 0.3)
    level = level / (1.0 + batch.contact(stage, "volume") / 4e5)
    supplied = run.inner["b_plus_volts"] / run.chassis.rails["b-plus"].nominal_v
    level = level * smooth_step(supplied, 0.3, 0.75)
    _sound_output(run, level)


def _sound_output(run: Run, level: Value) -> None:
    batch, stage = run.batch, "sound"
    grid = batch.ohms(stage, "grid-leak")
    rise = 110.0 * grid / (grid + batch.leak(stage, "coupling")) + batch.parameter(
        stage, "output", "gas_a"
    ) * np.minimum(grid, 2e6)
    cathode = parallel_ohm(batch.ohms(stage, "cathode"), batch.leak(stage, "cathode-bypass"))
    tube = emission(run, stage, "output")
    rated = run.figure("sound_output_a", 0.033)
    base = batch.value(stage, "cathode", 560.0)
    current = rated * tube * (1 + 0.0035 * base) / (1 + 0.0035 * cathode) * (1.0 + 0.028 * np.minimum(rise, 60.0))
    current = current * run.inner["b_plus_volts"] / run.chassis.rails["b-plus"].nominal_v
    open_plate = batch.opened(stage, "output-transformer") > 1e4
    plate = np.where(open_plate, 1.0, run.inner["b_plus_volts"] - current * 350.0)
    run.put("sound-output-plate", "dc", plate)
    run.put("sound-output-cathode", "dc", np.where(open_plate, 0.3 * current, current) * cathode)
    run.keep(sound_output_a=np.where(open_plate, 0.2 * current, current), sound_output_hot=rise > 12.0)
    hk = batch.parameter(stage, "audio", "heater_cathode_ohm")
    hum = smooth_step(run.inner["b_plus_ripple"], 2.0, 12.0) + 0.9 * smooth_step(-np.log10(hk), -4.6, -3.0)
    stabilizer = batch.farads(stage, "stabilising-capacitor", 5e-6)
    buzz = 0.8 * (1.0 - stabilizer / (stabilizer + 4e-7)) + 0.6 * run.picture["overload"]
    buzz = buzz + 0.6 * (batch.parameter(stage, "detector-transformer", "gain") < 0.4)
    run.show(
        sound=np.clip(level * (rise < 25), 0.0, 1.5),
        sound_hum=np.clip(hum, 0, 1),
        sound_buzz=np.clip(buzz * (level > 0.05), 0, 1),
    )


def stage_currents(run: Run) -> dict[str, Value]:
    """Return what the stages drew from each rail, referred to the rail's nominal voltage."""

    def at_nominal(current: Value, rail: str) -> Value:
        name = f"rail-{rail}"
        nominal = run.chassis.rails[name].nominal_v if name in run.chassis.rails else 200.0
        actual = run.inner[f"rail:{rail}"]
        asked = np.clip(current * nominal / np.maximum(actual, 0.05 * nominal), 1e-6, 1.0)
        return np.where(actual < 0.2 * nominal, 0.02, asked)

    tuner = run.figure("tuner_current_a", 0.026) * np.minimum(emission(run, "tuner", "rf"), 1.2)
    tuner = tuner * (run.batch.ohms("tuner", "plate-feed") < 1e5)
    strip = tuner + run.figure("sound_if_current_a", 0.009) * emission(run, "sound", "limiter")
    strip = strip + sum(run.inside(f"if_{n}_a") for n in (1, 2, 3))
    b_plus = run.inner["branch_a"] + run.inner["sound_output_a"] + run.figure("b_plus_steady_a", 0.003)
    return {
        "tuner": at_nominal(strip, "tuner"),
        "video": at_nominal(run.inner["video_a"], "video"),
        "sync": at_nominal(run.inside("sync_a", 0.009), "sync"),
        "horizontal": at_nominal(run.inside("oscillator_a", 0.009), "horizontal"),
        "vertical": at_nominal(run.inside("vertical_a", 0.024), "vertical"),
        "b-plus": np.clip(
            b_plus * run.chassis.rails["b-plus"].nominal_v / np.maximum(run.inner["b_plus_volts"], 20.0), 0.0, 3.0
        ),
    }
