"""`fieldrun sweep`: many designs from one file, resumed where they were left."""

import contextlib
import os
import shlex
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fieldrun.cli.designs import design_path, folder_for
from fieldrun.cli.errors import CHECK_FAILED, INTERRUPTED, told_errors

if TYPE_CHECKING:
    from fieldrun.studies.sweep.choice import Choice
    from fieldrun.studies.sweep.goals import Goal
    from fieldrun.studies.sweep.plan import Plan
    from fieldrun.studies.sweep.record import Sweep
    from fieldrun.studies.sweep.run import Request

Command = Callable[..., None]

RANGES = "KEY=START:STOP:COUNT or KEY=a,b,c; give it several times for a grid, the first key outermost."
SAMPLE = "N points scattered over the ranges (START:STOP will do) in place of the grid."
KEYS = (
    "Keys of result.json, such as emf.rms_v_per_krpm,winding.fill (default: field, EMF, ohms, rounds, copper, power)."
)
BEST = (
    "What to find the best of: a picked key, with the most or the least where that is not plain from the key. "
    "Given twice: the points that none betters in both."
)
FREEZE = (
    "Keep the copper of DESIGN, its rounds and height. Answers: what would the winding I have give in another rotor? "
    'Without it rounds = "fill", gap_mm = "stack" and mid-gap heights follow each point: which machine shall I build?'
)
CLUSTER = "Scheduler of a dask.distributed cluster, in place of --jobs."


def _options(command: Command) -> Command:
    """Give the command its options; they are too many to stand above it."""
    path = click.Path(path_type=Path, readable=False)
    options = (
        click.option("--vary", "ranges", multiple=True, metavar="KEY=VALUES", help=RANGES),
        click.option("--table", type=path, metavar="DESIGNS.csv", help="One point a row; its header names keys."),
        click.option("--sample", type=int, metavar="N", help=SAMPLE),
        click.option("--method", type=click.Choice(["lhs", "sobol"]), default="lhs", help="How a sample is scattered."),
        click.option("--seed", type=click.IntRange(0), default=1, help="Of the sample (1)."),
        click.option("--pick", "picks", multiple=True, metavar="KEY,KEY...", help=KEYS),
        click.option("--best", multiple=True, metavar="KEY[:min|max]", help=BEST),
        click.option("--freeze-winding", "freeze", is_flag=True, help=FREEZE),
        click.option("--jobs", type=click.IntRange(1), metavar="N", help="Processes at most (default: all cores)."),
        click.option("--cluster", metavar="tcp://HOST:PORT", help=CLUSTER),
        click.option("--retry-failed", is_flag=True, help="Solve points again that failed before."),
        click.option("-o", "--out", type=path, help="Folder for the results (default: DESIGN-sweep)."),
        click.option("--json", "as_json", is_flag=True, help="Print the result as one JSON object, nothing else."),
        click.option("--pictures/--no-pictures", default=True, help="Draw pictures (default) or leave them out."),
        click.option("--force", is_flag=True, help="Begin anew, or write beside other files; what was found is lost."),
        click.option("-q", "--quiet", is_flag=True, help="Only the count of points."),
        click.option("-v", "--verbose", is_flag=True, help="A traceback if something breaks."),
    )
    for option in reversed(options):  # decorators apply from the last one up, and help lists them from the first
        command = option(command)
    return command


@click.command()
@click.argument("design")
@_options
def sweep(design: str, as_json: bool, quiet: bool, verbose: bool, **asked: Any) -> None:
    """Answer many variations of a design: every point of a grid, of a sample, or of a table.

    DESIGN is a design file, or the name of a bundled example. Any key of the file may vary, and any number of the
    result be picked. What is found is kept as it comes: the same command goes on where it was ended.

    fieldrun sweep hut-charger --vary rotor.gap_mm=7:12:11 --vary "rotor.backing=none,mild steel"
    """
    with told_errors(verbose), _told_how_to_go_on():
        from fieldrun.outputs.file_names import JOURNAL
        from fieldrun.outputs.progress import points_told
        from fieldrun.outputs.sweep_file import sweep_text
        from fieldrun.outputs.sweep_folder import best_dict, leave_sweep
        from fieldrun.outputs.sweep_told import show_sweep
        from fieldrun.studies.sweep.goals import check_goals, read_goals
        from fieldrun.studies.sweep.run import run_sweep

        request, folder = _request(design, asked)
        goals = read_goals(asked["best"], request.picks)
        check_goals(request, goals)
        with points_told(quiet=quiet) as tell:
            swept = run_sweep(
                request,
                folder / JOURNAL,
                jobs=asked["jobs"] or _cores(),
                cluster=_crew(asked["cluster"]),
                fresh=asked["force"],
                retry_failed=asked["retry_failed"],
                tell=tell,
            )
        choice = _choice(swept, goals, folder)
        for remark in leave_sweep(swept, choice, folder, pictures=asked["pictures"]):
            click.echo(f"note: {remark}", err=True)
        if as_json:
            click.echo(sweep_text(swept, best_dict(swept, choice)).encode(), nl=False)
        else:
            show_sweep(swept, verbose - quiet, choice)
            if not quiet:
                click.echo(f"\nWritten to {folder}: " + ", ".join(sorted(file.name for file in folder.iterdir())))
        _leave(swept)


def _request(design: str, asked: Mapping[str, Any]) -> "tuple[Request, Path]":
    """Everything that can be wrong is told here, before anything is solved or written."""
    from fieldrun.generator.machine import open_design, read_design
    from fieldrun.outputs.answer import answer_dict
    from fieldrun.outputs.folder import check_replaceable
    from fieldrun.studies.sweep.checks import check_picks
    from fieldrun.studies.sweep.picks import DEFAULT
    from fieldrun.studies.sweep.run import Request, frozen_winding

    path = design_path(design)
    base = read_design(path)
    for note in base.notes:
        click.echo(f"note: {note}", err=True)
    plan = _plan(asked)
    kept = (
        {key: value for key, value in frozen_winding(base).items() if key not in plan.keys} if asked["freeze"] else {}
    )
    picks = tuple(key.strip() for text in asked["picks"] for key in text.split(",") if key.strip()) or DEFAULT
    request = Request(open_design(path), base, plan, picks, answer_dict, kept)
    folder = asked["out"] or Path(f"{folder_for(path)}-sweep")
    check_replaceable(folder, base.name, force=asked["force"])
    check_picks(request)
    return request, folder


def _plan(asked: Mapping[str, Any]) -> "Plan":
    from fieldrun.design.errors import DesignError, Fault
    from fieldrun.studies.sweep.axes import read_axes
    from fieldrun.studies.sweep.plan import grid, sample, table

    ranges, count = asked["ranges"], asked["sample"]
    if asked["table"] and (ranges or count is not None):
        raise DesignError([Fault("--table", "has its own points; leave out --vary and --sample, or put them in rows")])
    if asked["table"]:
        return table(asked["table"])
    if not ranges:
        text = "what shall vary? try --vary rotor.gap_mm=7:12:11, or --table DESIGNS.csv"
        raise DesignError([Fault("--vary", text)])
    axes = read_axes(ranges, sampled=count is not None)
    return grid(axes) if count is None else sample(axes, count, asked["method"], asked["seed"])


def _crew(address: str | None) -> Any:
    if address is None:
        return None
    from fieldrun.studies.sweep.cluster import cluster_crew

    return cluster_crew(address, lambda text: click.echo(f"warning: {text}", err=True))


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextlib.contextmanager
def _told_how_to_go_on() -> Iterator[None]:
    """Ctrl-C keeps what was found; the same line goes on from there, but for what would begin anew."""
    try:
        yield
    except KeyboardInterrupt:
        words = [word for word in sys.argv[1:] if word != "--force"]
        click.echo("fieldrun: interrupted; every finished point is kept, go on with", err=True)
        click.echo(f"  {shlex.join(['fieldrun', *words])}", err=True)
        sys.exit(INTERRUPTED)


def _choice(swept: "Sweep", goals: "Sequence[Goal]", folder: Path) -> "Choice":
    """What is best; a goal that turned out to be words is told after all that was found is written."""
    from fieldrun.design.errors import DesignError
    from fieldrun.outputs.sweep_folder import leave_sweep
    from fieldrun.studies.sweep.choice import Choice, choose

    try:
        return choose(swept, goals)
    except DesignError:
        leave_sweep(swept, Choice(), folder, pictures=False)
        raise


def _leave(swept: "Sweep") -> None:
    """Points that cannot be built are an answer; points that failed, or none that could be built, are not."""
    failed = len(swept.of_status("failed"))
    if failed:
        again = "try --retry-failed after the cause is gone"
        click.echo(f"warning: {failed} of {len(swept.rows)} points failed; {again}", err=True)
    elif not swept.of_status("ok"):
        click.echo("warning: none of the points can be built", err=True)
    if failed or not swept.of_status("ok"):
        sys.exit(CHECK_FAILED)
