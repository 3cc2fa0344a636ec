# SPDX-License-Identifier: MIT
"""The commands: each parses its arguments, calls one function, prints and exits.

Exit codes: 0 done, 1 the outcome differs from what was expected, 2 bad input, 130 stopped by Ctrl-C.
Heavy parts of the program are imported by the command that needs them, so that help is instant.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from backporch.engine.cli.chassis import chassis_app
from backporch.engine.cli.coverage import coverage
from backporch.engine.cli.rig_command import rig as rig_command
from backporch.engine.cli.train_command import train

__all__ = ["app"]

app = typer.Typer(
    name="backporch",
    help="From what is seen on a valve television to the faulty stage and part, safely and in few minutes.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)

app.add_typer(chassis_app, name="chassis")
app.command()(train)
app.command("rig")(rig_command)
app.command()(coverage)

ChassisName = Annotated[
    str, typer.Option("--chassis", "-c", help="Name of a shipped chassis, or the path of a chassis file.")
]
Recapped = Annotated[
    bool, typer.Option("--recapped", help="All paper capacitors and electrolytics of the set are new.")
]
NewParts = Annotated[
    list[str] | None, typer.Option("--new", help="A part, tube or kind of part that is new; repeatable.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document instead of text.")]


@app.command()
def diagnose(
    chassis: Annotated[
        str | None,
        typer.Option(
            "--chassis", "-c", help="Name of a shipped chassis (plover-17 if none is given), or a chassis file."
        ),
    ] = None,
    answers: Annotated[
        Path | None, typer.Option("--answers", help="Read the answers from this file, one a line.")
    ] = None,
    session: Annotated[
        str | None,
        typer.Option("--session", help="Name of the session, as you like it; a name of today by default."),
    ] = None,
    resume: Annotated[
        bool, typer.Option("--resume", help="Show the saved sessions, and go on with the one you choose.")
    ] = False,
    order: Annotated[
        str | None,
        typer.Option("--order", help="quickest (as usual): fewest minutes. cheapest: strictly cheapest first."),
    ] = None,
    careful: Annotated[
        bool, typer.Option("--careful", help="Test until the stage is nearly certain before a part is changed.")
    ] = False,
    without: Annotated[
        list[str] | None, typer.Option("--without", help="An instrument that your bench lacks; repeatable.")
    ] = None,
    owned: Annotated[
        list[str] | None, typer.Option("--with", help="An instrument that your bench has; repeatable.")
    ] = None,
    rig: Annotated[
        str, typer.Option("--rig", help="The set runs on this substitute tube and yoke: a name or a file.")
    ] = "",
    recapped: Recapped = False,
    new: NewParts = None,
    bench: Annotated[
        Path | None, typer.Option("--bench", help="Your bench file: instruments at hand, minutes that differ.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Find the faulty stage and part, one question at a time.

    Example: backporch diagnose --chassis plover-17
    """
    from backporch.engine.cli.resume import DiagnoseOptions, Given, run_diagnose

    given = Given(
        chassis,
        order,
        careful,
        without=tuple(without or ()),
        owned=tuple(owned or ()),
        rig=rig,
        recapped=recapped,
        new=tuple(new or ()),
        bench=str(bench.resolve()) if bench else "",
    )
    raise typer.Exit(run_diagnose(DiagnoseOptions(given, answers, session, resume, as_json)))


@app.command()
def sessions(
    words: Annotated[
        list[str] | None, typer.Argument(help="Words to look for: a name, a set, a complaint, a date.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List the saved sessions by set, complaint and date.

    Example: backporch sessions rolls
    """
    from backporch.engine.cli.sessions import run_sessions

    run_sessions(words or [], as_json=as_json)


@app.command("term")
def explain_term(term: Annotated[list[str], typer.Argument(help="The term, for example: boosted B+.")]) -> None:
    """Explain a term of the trade in plain words.

    Example: backporch term hold
    """
    from backporch.engine.knowledge.library import shipped

    name, entry = shipped().term(" ".join(term))
    also = f" Also called: {', '.join(entry.also)}." if entry.also else ""
    print(f"{name}: {entry.means}.{also}")


@app.command()
def replay(
    paths: Annotated[list[Path], typer.Argument(help="Scenario files, or folders of them.")],
    workers: Annotated[int, typer.Option("--workers", min=1, max=64, help="How many to run side by side.")] = 1,
    junit: Annotated[
        Path | None, typer.Option("--junit", help="Also write the results to this file, for a build server.")
    ] = None,
    trace: Annotated[
        bool, typer.Option("--trace", help="Step through as a lesson, question by question.")
    ] = False,
    update: Annotated[
        bool, typer.Option("--update", help="Take what is found as right: show the difference, then rewrite.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Run saved scenarios or sessions, and compare what is found with what was expected.

    Example: backporch replay scenarios/ --workers 2
    """
    from backporch.engine.cli.replay import ReplayOptions, run_replay

    raise typer.Exit(run_replay(ReplayOptions(tuple(paths), workers, as_json, junit, trace, update)))


@app.command()
def expect(
    chassis: Annotated[str, typer.Argument(help="Name of a shipped chassis, or the path of a chassis file.")],
    where: Annotated[str | None, typer.Argument(help="A test point or a stage; everything by default.")] = None,
    meter: Annotated[str, typer.Option("--meter", help="10M, 11M, 20k (per volt) or 1k (per volt).")] = "10M",
    change: Annotated[
        list[str] | None, typer.Option("--set", help="A part with another value: C34=0.01uF; repeatable.")
    ] = None,
    standard: Annotated[str | None, typer.Option("--standard", help="525, 625, 405 or 819.")] = None,
    mains: Annotated[str | None, typer.Option("--mains", help="Today's mains at the set, such as 110.")] = None,
    signal: Annotated[str, typer.Option("--signal", help="pattern or none.")] = "pattern",
    why: Annotated[bool, typer.Option("--why", help="Show each formula with its numbers.")] = False,
    sheet: Annotated[
        bool, typer.Option("--sheet", help="Print the bench sheet: sockets, values and boxes for readings.")
    ] = False,
    page: Annotated[
        Path | None, typer.Option("--page", help="Write the bench sheet to this HTML file, for A4 and Letter.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show what each test point of a healthy set should read.

    Example: backporch expect plover-17 vertical-sawtooth --why
    """
    from backporch.engine.cli.expect import ExpectAsked, run_expect

    asked = ExpectAsked(meter, change or (), standard, mains, signal, why, as_json, sheet, page)
    run_expect(chassis, where, asked)


@app.command()
def simulate(
    chassis: Annotated[str, typer.Argument(help="Name of a shipped chassis, or the path of a chassis file.")],
    fault: Annotated[
        list[str] | None,
        typer.Option("--fault", help="PART=MODE, PART=MODE:SEVERITY or POINT/POINT=leaky:OHMS; repeatable."),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Seed of the part tolerances.")] = 1,
    picture: Annotated[bool, typer.Option("--picture", help="Draw the screen as well.")] = False,
    minutes: Annotated[
        float | None, typer.Option("--minutes", help="Minutes since switching on; a fault may come with warmth.")
    ] = None,
    baseline: Annotated[
        str | None,
        typer.Option(
            "--baseline", help="Session with your own readings of the working set; they count from then on."
        ),
    ] = None,
    recapped: Recapped = False,
    new: NewParts = None,
    hard_to_find: Annotated[
        bool, typer.Option("--hard-to-find", help="List the faults that show nothing, and those that look alike.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Show what a set with a fault shows, beside a healthy one, and which tests would reveal it.

    Example: backporch simulate plover-17 --fault C26=shorted
    """
    if hard_to_find:
        from backporch.engine.cli.hard_to_find import run_hard_to_find

        run_hard_to_find(chassis, as_json=as_json)
        return
    from backporch.engine.cli.simulate import SimulateOptions, run_simulate

    asked = SimulateOptions(
        chassis, tuple(fault or ()), seed, minutes, baseline, recapped, tuple(new or ()), picture, as_json
    )
    run_simulate(asked)


@app.command("cold-check")
def cold_check(
    chassis: ChassisName = "plover-17",
    session: Annotated[str | None, typer.Option("--session", help="Name of the session to save under.")] = None,
    answers: Annotated[
        Path | None, typer.Option("--answers", help="Read the answers from this file, one a line.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Walk through the checks before a set that was stored gets any power.

    Example: backporch cold-check --chassis plover-17
    """
    from backporch.engine.cli.cold_check import run_cold_check

    raise typer.Exit(run_cold_check(chassis, session=session, answers=answers, as_json=as_json))


@app.command()
def recap(
    chassis: Annotated[str, typer.Argument(help="Name of a shipped chassis, or the path of a chassis file.")],
    as_json: AsJson = False,
) -> None:
    """Show which capacitors are replaced on sight, which on suspicion, and which never blindly.

    Example: backporch recap plover-17
    """
    from backporch.engine.cli.recap import run_recap

    run_recap(chassis, as_json=as_json)


@app.command()
def energy(
    chassis: Annotated[str, typer.Argument(help="Name of a shipped chassis, or the path of a chassis file.")],
    filter_bleeder: Annotated[str, typer.Option("--bleeder", help="Resistor at hand for the filters.")] = "1k",
    anode_bleeder: Annotated[
        str, typer.Option("--anode-bleeder", help="High-voltage resistor string at hand for the tube.")
    ] = "2M",
    as_json: AsJson = False,
) -> None:
    """Show what keeps a charge on a chassis, and how long discharging takes.

    Example: backporch energy plover-17 --bleeder 1k
    """
    from backporch.engine.cli.energy import run_energy

    run_energy(chassis, filter_bleeder=filter_bleeder, anode_bleeder=anode_bleeder, as_json=as_json)


@app.command()
def worth(
    chassis: ChassisName = "plover-17",
    instrument: Annotated[
        list[str] | None, typer.Option("--instrument", help="Price only this instrument; repeatable.")
    ] = None,
    without: Annotated[
        list[str] | None, typer.Option("--without", help="An instrument that your bench lacks; repeatable.")
    ] = None,
    owned: Annotated[
        list[str] | None, typer.Option("--with", help="An instrument that your bench has; repeatable.")
    ] = None,
    cases: Annotated[int, typer.Option("--cases", help="Faults drawn; more tell finer and take longer.")] = 100,
    bench: Annotated[
        Path | None, typer.Option("--bench", help="Your bench file: instruments at hand, minutes that differ.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Tell how many bench minutes one more instrument would save.

    Example: backporch worth --chassis plover-17 --instrument high-voltage-probe
    """
    from backporch.engine.cli.worth import run_worth

    run_worth(
        chassis,
        owned=owned or [],
        lacking=without or [],
        instruments=instrument or [],
        bench_file=str(bench) if bench else "",
        cases=cases,
        as_json=as_json,
    )


@app.command()
def gallery(
    symptoms: Annotated[
        list[str] | None, typer.Argument(help="Names of symptoms, or everyday words; all of them by default.")
    ] = None,
    family: Annotated[
        str | None, typer.Option("--family", help="raster, sync, video, high-voltage, heater, sound or bench.")
    ] = None,
    html: Annotated[Path | None, typer.Option("--html", help="Write one page with all pictures here.")] = None,
    png: Annotated[
        Path | None, typer.Option("--png", help="Write pictures, films and contact sheets into this folder.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show how each symptom looks on the screen.

    Example: backporch gallery picture-rolls-up
    """
    from backporch.engine.cli.gallery import run_gallery

    run_gallery(symptoms or [], family=family, as_json=as_json, html=html, png=png)


@app.command()
def waveform(
    chassis: Annotated[str, typer.Argument(help="Name of a shipped chassis, or the path of a chassis file.")],
    point: Annotated[str | None, typer.Argument(help="A test point; without one the points are listed.")] = None,
    fault: Annotated[
        list[str] | None, typer.Option("--fault", help="PART=MODE or PART=MODE:SEVERITY; repeatable.")
    ] = None,
    sweep: Annotated[
        str | None, typer.Option("--sweep", help="line, field or mains; by default what suits the point.")
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Seed of the part tolerances.")] = 1,
    png: Annotated[Path | None, typer.Option("--png", help="Write the drawing as a PNG file.")] = None,
    svg: Annotated[Path | None, typer.Option("--svg", help="Write the drawing as an SVG file.")] = None,
    as_json: AsJson = False,
) -> None:
    """Draw what an oscilloscope shows at a test point, healthy and with a fault.

    Example: backporch waveform plover-17 integrator-output --fault C26=shorted
    """
    from backporch.engine.cli.waveform import run_waveform

    run_waveform(chassis, point, faults=fault or [], sweep=sweep, seed=seed, png=png, svg=svg, as_json=as_json)


@app.command()
def report(
    session: Annotated[str, typer.Argument(help="Name of a session, or the path of its session.yaml.")],
    html: Annotated[
        Path | None, typer.Option("--html", help="Where to write it; NAME.html in this folder by default.")
    ] = None,
) -> None:
    """Write the job sheet of a session as one HTML page that prints.

    Example: backporch report farm-set --html farm-set.html
    """
    from backporch.engine.cli.report import run_report

    run_report(session, html=html)
