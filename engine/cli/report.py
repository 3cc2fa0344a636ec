# SPDX-License-Identifier: MIT
"""The report command: the job sheet of a session as one HTML file."""

from __future__ import annotations

from pathlib import Path

from backporch.engine.cli.files import write_file
from backporch.engine.cli.progress import watched
from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import UnknownWord
from backporch.engine.session.journal import FILE, session_folder, session_name
from backporch.engine.session.scenario import Scenario, load_session
from backporch.engine.session.shelf import on_the_shelf

__all__ = ["run_report"]


def run_report(session: str, *, html: Path | None) -> None:
    """Write the job sheet of a session, given by its name or by the path of its file.

    Raises:
        BackporchError: there is no such session, or the file cannot be written.
    """
    from backporch.engine.report.session_page import Job, session_page
    from backporch.engine.report.steps import steps_of, told_steps

    name, scenario = _session(session)
    bench = scenario.bench
    workbench = make_workbench(scenario.chassis, bench.owned, bench.lacking, bench.rig)
    entries = tuple(scenario.said)
    places = watched(steps_of(entries), "Retelling")
    told = tuple(told_steps(workbench, entries, places))
    path = html or Path(f"{name}.html")
    write_file(path, session_page(Job(name, workbench, entries, told)).encode("utf-8"))
    print(f"Written: {path}")


def _session(text: str) -> tuple[str, Scenario]:
    """Return a session's name and all that was said."""
    path = Path(text)
    if path.suffix == ".yaml" and path.is_file():
        return (path.parent.name if path.name == FILE else path.stem), load_session(path)
    name = session_name(text)
    if not (session_folder() / name / FILE).is_file():
        raise UnknownWord("session", name, [s.name for s in on_the_shelf(session_folder())])
    return name, load_session(session_folder() / name / FILE)
