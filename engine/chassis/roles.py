# SPDX-License-Identifier: MIT
"""Which circuits a stage may be built as, and which roles the parts of each circuit play.

The simulator asks for parts by role; a role that a chassis leaves out is taken as ideal.
Roles marked with ``!`` must be filled.
"""

from __future__ import annotations

__all__ = ["CIRCUITS", "POINTS", "required_roles", "roles_of"]

_TABLE = """
signal-source external: source! lead
mains-input switched: cord switch! fuse interlock line-filter tap
low-voltage-supply full-wave-tube: transformer! rectifier! reservoir! surge-resistor
low-voltage-supply half-wave-tube: rectifier! reservoir! surge-resistor! thermistor dropper
low-voltage-supply half-wave-selenium: rectifier! reservoir! surge-resistor! thermistor dropper
low-voltage-supply cascade-doubler: rectifier! rectifier-2! reservoir! series-capacitor! surge-resistor
rail-decoupling choke-and-droppers: choke resistor b-plus-capacitor! dropper-tuner capacitor-tuner \
 dropper-video capacitor-video dropper-sync capacitor-sync dropper-horizontal capacitor-horizontal \
 dropper-vertical capacitor-vertical tag-strip
heater-supply parallel-winding: winding! feed return
heater-supply series-string: dropper! thermistor feed shunt bypass return
tuner turret: rf! oscillator mixer! channel-contacts antenna-coil plate-feed plate-bypass agc-feed \
 fine-tuning
if-amplifier tuned: amplifier-1! amplifier-2 amplifier-3 cathode-1 cathode-2 cathode-3 feed-1 feed-2 \
 feed-3 \
 bypass-1 bypass-2 bypass-3 cathode-bypass-1 cathode-bypass-2 cathode-bypass-3 transformer-1 \
 transformer-2 transformer-3
video-detector series-diode: diode! load! filter peaking
agc simple-peak: rectifier delay coupling load! filter-resistor! filter-capacitor! tuner-resistor \
 tuner-capacitor
agc gated: amplifier! coupling pulse-coupling load! filter-resistor! filter-capacitor! tuner-resistor \
 tuner-capacitor screen-dropper cathode-divider threshold
agc mean-level: filter-resistor! filter-capacitor! load tuner-resistor tuner-capacitor delay clamp
video-output single-pentode: amplifier! plate-load! cathode! cathode-bypass screen-dropper! screen-bypass \
 shunt-peaking series-peaking damping grid-leak coupling
video-coupling ac-to-cathode: contrast! coupling! cathode-return! series-peaking damping
video-coupling direct-to-cathode: contrast! cathode-feed! series-peaking damping
sound intercarrier: limiter! detector audio output! output-transformer coupling grid-leak cathode \
 cathode-bypass \
 volume detector-transformer stabilising-capacitor feed
sound split-am: limiter! detector audio output! output-transformer coupling grid-leak cathode \
 cathode-bypass \
 volume detector-transformer feed
sync-separator grid-leak-triode: separator! input-resistor coupling! noise-resistor noise-capacitor \
 grid-leak! plate-load!
sync-separator grid-leak-pentode: separator! input-resistor coupling! noise-resistor noise-capacitor \
 grid-leak! \
 plate-load! screen-dropper! screen-divider screen-bypass
sync-separator noise-gated-pentode: separator! input-resistor coupling! noise-resistor \
 noise-capacitor grid-leak! \
 plate-load! screen-dropper! screen-divider screen-bypass gate-coupling gate-leak gate-preset
sync-amplifier triode-splitter: amplifier! coupling! grid-leak! plate-load! cathode-load!
sync-amplifier triode-clipper: amplifier! coupling! grid-leak! plate-load! output-coupling
vertical-integrator one-section: resistor-1! capacitor-1! coupling
vertical-integrator two-section: resistor-1! capacitor-1! resistor-2! capacitor-2! coupling
vertical-integrator three-section: resistor-1! capacitor-1! resistor-2! capacitor-2! resistor-3! \
 capacitor-3! coupling
horizontal-afc phase-detector: detector! sync-capacitor-a! sync-capacitor-b load-a! load-b! \
 reference-resistor \
 reference-capacitor! filter-resistor! filter-capacitor! damping-resistor damping-capacitor
horizontal-afc direct: differentiator! differentiator-resistor
vertical-oscillator blocking: oscillator! transformer! grid-capacitor! grid-resistor! hold!
vertical-oscillator plate-coupled: oscillator! output-grid-capacitor grid-capacitor! grid-resistor! hold! \
 feedback-capacitor feedback-resistor plate-load
vertical-oscillator cathode-coupled: oscillator! oscillator-2! cathode! plate-load! plate-load-2 \
 grid-capacitor! \
 grid-resistor! hold!
vertical-sawtooth charged: charging! height! capacitor! peaking
vertical-output triode-transformer: output! coupling! grid-leak! cathode! cathode-bypass linearity \
 transformer! feed-damping
vertical-output pentode-transformer: output! coupling! grid-leak! cathode! cathode-bypass linearity \
 transformer! \
 screen-dropper screen-bypass feed-damping feedback-resistor feedback-capacitor
vertical-yoke series: winding! damping-a damping-b connector thermistor
horizontal-oscillator cathode-coupled: oscillator! oscillator-2! cathode! plate-load! plate-load-2! \
 coupling! \
 grid-resistor! hold! stabilizing-coil stabilizing-capacitor
horizontal-drive shaped: capacitor! peaking coupling! preset
horizontal-output beam-pentode: output! grid-leak! screen-dropper! screen-bypass cathode fuse stopper
damper-boost series: damper! boost-capacitor! linearity-coil linearity-capacitor filter-resistor \
 filter-capacitor
flyback-transformer auto: transformer! width-coil insulation
horizontal-yoke series: winding! balance-capacitor connector coupling
high-voltage tube-rectifier: rectifier! filament-resistor filter-capacitor anode-lead filter-resistor
picture-tube cathode-driven: tube! socket coating-spring
picture-tube-supplies divider: brightness! brightness-feed cathode-feed cathode-divider first-anode-feed \
 first-anode-bypass focus focus-feed focus-bypass brightness-bypass
neck-magnets set: ion-trap centring focus
retrace-blanking rc: coupling! series grid-resistor
"""

POINTS: dict[str, tuple[str, ...]] = {
    "mains-at-set": ("rms",),
    "mains-current": ("amp",),
    "b-plus-to-return": ("ohm",),
    "reservoir": ("dc", "pp"),
    "b-plus": ("dc", "pp"),
    "rail-video": ("dc", "pp"),
    "rail-sync": ("dc", "pp"),
    "rail-vertical": ("dc", "pp"),
    "rail-horizontal": ("dc", "pp"),
    "rail-tuner": ("dc", "pp"),
    "bias-rail": ("dc",),
    "doubler-middle": ("dc",),
    "heater-winding": ("rms",),
    "picture-tube-heater": ("rms",),
    "tuner-b-plus": ("dc",),
    "tuner-agc": ("dc",),
    "if-1-plate": ("dc",),
    "if-1-screen": ("dc",),
    "if-1-cathode": ("dc",),
    "if-2-plate": ("dc",),
    "if-2-screen": ("dc",),
    "if-2-cathode": ("dc",),
    "if-3-plate": ("dc",),
    "if-3-screen": ("dc",),
    "if-3-cathode": ("dc",),
    "agc-line": ("dc",),
    "agc-gate-pulse": ("pp",),
    "video-detector-output": ("dc", "pp"),
    "video-grid": ("dc", "pp"),
    "video-cathode": ("dc",),
    "video-screen": ("dc",),
    "video-plate": ("dc", "pp"),
    "picture-tube-cathode": ("dc", "pp"),
    "picture-tube-grid": ("dc", "pp"),
    "picture-tube-first-anode": ("dc",),
    "picture-tube-focus": ("dc",),
    "sync-separator-grid": ("dc", "pp"),
    "sync-separator-plate": ("dc", "pp"),
    "sync-separator-screen": ("dc",),
    "sync-amplifier-grid": ("dc", "pp"),
    "sync-amplifier-plate": ("dc", "pp"),
    "sync-amplifier-cathode": ("dc", "pp"),
    "integrator-output": ("pp",),
    "horizontal-sync-pulse": ("pp",),
    "afc-line": ("dc",),
    "afc-reference-pulse": ("pp",),
    "vertical-oscillator-grid": ("dc", "pp"),
    "vertical-oscillator-plate": ("dc", "pp"),
    "vertical-sawtooth": ("pp",),
    "vertical-output-grid": ("dc", "pp"),
    "vertical-output-cathode": ("dc",),
    "vertical-output-screen": ("dc",),
    "vertical-output-plate": ("dc",),
    "vertical-yoke": ("pp",),
    "vertical-yoke-resistance": ("ohm",),
    "horizontal-oscillator-grid": ("dc", "pp"),
    "horizontal-oscillator-plate": ("dc", "pp"),
    "horizontal-drive": ("pp",),
    "horizontal-output-grid": ("dc", "pp"),
    "horizontal-output-screen": ("dc",),
    "horizontal-output-cathode-current": ("amp",),
    "boosted-b-plus": ("dc",),
    "horizontal-yoke-resistance": ("ohm",),
    "flyback-resistance": ("ohm",),
    "anode-voltage": ("dc",),
    "sound-output-plate": ("dc",),
    "sound-output-cathode": ("dc",),
}
"""Every point of the virtual chassis with the quantities that are read there (heater-string-N come on top)."""


def _read() -> dict[str, dict[str, dict[str, bool]]]:
    table: dict[str, dict[str, dict[str, bool]]] = {}
    for line in _TABLE.replace("\\\n", "").strip().splitlines():
        head, _, roles = line.partition(":")
        stage, circuit = head.split()
        found = {role.rstrip("!"): role.endswith("!") for role in roles.split()}
        table.setdefault(stage, {})[circuit] = found
    return table


CIRCUITS = _read()
"""Stage -> circuit -> role -> whether it must be filled."""


def roles_of(stage: str, circuit: str) -> tuple[str, ...]:
    """Return the roles of a circuit.

    Example:
        >>> roles_of("vertical-integrator", "one-section")
        ('resistor-1', 'capacitor-1', 'coupling')
    """
    return tuple(CIRCUITS[stage][circuit])


def required_roles(stage: str, circuit: str) -> tuple[str, ...]:
    """Return the roles that a chassis must fill.

    Example:
        >>> required_roles("vertical-integrator", "one-section")
        ('resistor-1', 'capacitor-1')
    """
    return tuple(role for role, needed in CIRCUITS[stage][circuit].items() if needed)
