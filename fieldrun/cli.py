"""Arguments, exit codes, messages: nothing else. Heavy libraries are imported inside the commands."""

import contextlib
import io
import os
import shlex
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldrun import __version__
from fieldrun.design.errors import DesignError, FieldrunError

if TYPE_CHECKING:
    from fieldrun.design.starter import Question
    from fieldrun.generator.result import RunResult
    from fieldrun.studies.tolerance import ToleranceBand

Command = Callable[..., None]
"""A function that becomes a command."""

FAULT, CHECK_FAILED, MISSING, INTERRUPTED = 1, 3, 4, 130


@contextlib.contextmanager
def told_errors(verbose: bool) -> Iterator[None]:
    """Turn whatever goes wrong into a line for the user and an exit code."""
    try:
        yield
    except DesignError as error:
        for fault in error.faults:
            click.echo(str(fault), err=True)
        count = len(error.faults)
        click.echo(f"{count} fault{'s' if count > 1 else ''}, nothing was run", err=True)
        sys.exit(error.exit_code)
    except FieldrunError as error:
        click.echo(f"fieldrun: {error}", err=True)
        sys.exit(error.exit_code)
    except (KeyboardInterrupt, click.Abort):  # Abort: Ctrl-C, or the end of the input, at a question
        click.echo("fieldrun: interrupted; nothing half-written was left", err=True)
        sys.exit(INTERRUPTED)
    except BrokenPipeError:
        # whoever read us has left; what is still to be flushed on leaving must go somewhere
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(FAULT)
    except Exception as error:
        if verbose:
            raise
        click.echo(f"fieldrun: {type(error).__name__}: {error} (details in {_log(error)}; -v shows them)", err=True)
        sys.exit(FAULT)


def _show_anything() -> None:
    """Letters that the terminal or pipe cannot show must not end a run."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _log(error: Exception) -> str:
    with tempfile.NamedTemporaryFile("w", prefix="fieldrun-", suffix=".log", delete=False, encoding="utf-8") as file:
        file.writelines(traceback.format_exception(error))
    return file.name


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="fieldrun")
def main() -> None:
    """Volts, ohms and grams of a hand-wound ironless disc generator, before a metre of wire is spent.

    Start with `fieldrun run hut-charger`, or write a design of your own with `fieldrun new my-charger.toml --ask`.
    """
    _show_anything()


def leaves_a_folder(command: Command) -> Command:
    """Give a command the options that all share that answer a design and leave a folder of files."""
    out = "Folder for the results (default: named after DESIGN)."
    options = (
        click.option("-o", "--out", type=click.Path(path_type=Path), help=out),
        click.option("--json", "as_json", is_flag=True, help="Print the result as one JSON object, nothing else."),
        click.option("--force", is_flag=True, help="Write into a folder of other results or files; the files stay."),
        click.option("--pictures/--no-pictures", default=True, help="Draw pictures (default) or leave them out."),
    )
    for option in reversed(options):  # decorators apply from the last one up, and help lists them from the first
        command = option(command)
    return command


@main.command()
@click.argument("design")
@leaves_a_folder
@click.option("--tolerance", is_flag=True, help="Tell what machines built to the [tolerance] of the design give.")
@click.option("-q", "--quiet", is_flag=True, help="Only the sentences.")
@click.option("-v", "--verbose", is_flag=True, help="Harmonics and other details too; a traceback if something breaks.")
def run(  # noqa: PLR0917 - click passes every option
    design: str,
    out: Path | None,
    as_json: bool,
    force: bool,
    pictures: bool,
    tolerance: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Answer a design: volts at your rpm, ohms, metres, grams, with pictures and a result file.

    DESIGN is a design file, or the name of a bundled example.
    """
    with told_errors(verbose):
        from fieldrun.generator.machine import read_design
        from fieldrun.generator.machine import run as answer
        from fieldrun.outputs.folder import check_replaceable, earlier_result
        from fieldrun.outputs.result_file import result_dict, result_text
        from fieldrun.outputs.run_folder import write_run
        from fieldrun.outputs.screen import show_run
        from fieldrun.studies.tolerance_checks import check_tolerance

        path = _design_path(design)
        checked = read_design(path)
        folder = out or _folder_for(path)
        check_replaceable(folder, checked.name, force=force)
        earlier = earlier_result(folder, checked.name)
        if tolerance:
            check_tolerance(checked, path)
        result = answer(checked)
        band = _band(result, quiet=quiet) if tolerance else None
        write_run(result, folder, pictures=pictures, band=band)
        for remark in [f"warning: {w.text}" for w in result.warnings] + [f"note: {text}" for text in checked.notes]:
            click.echo(remark, err=True)
        if as_json:
            click.echo(result_text(result, band).encode(), nl=False)  # JSON is UTF-8, whatever the terminal speaks
            return
        show_run(result, result_dict(result, band), earlier, verbose - quiet, band)
        if not quiet:
            click.echo(f"\nWritten to {folder}: " + ", ".join(sorted(f.name for f in folder.iterdir())))


def _band(result: "RunResult", *, quiet: bool) -> "ToleranceBand":
    from fieldrun.outputs.progress import steps_told
    from fieldrun.studies.tolerance import fields_needed, tolerance_band

    with steps_told(fields_needed(result.design), quiet=quiet) as tell:
        return tolerance_band(result, tell=tell)


@main.command()
@click.argument("design")
@leaves_a_folder
@click.option("-q", "--quiet", is_flag=True, help="Only the verdict.")
@click.option("-v", "--verbose", is_flag=True, help="EMF in V s/rad too; a traceback if something breaks.")
def verify(  # noqa: PLR0917 - click passes every option
    design: str, out: Path | None, as_json: bool, force: bool, pictures: bool, quiet: bool, verbose: bool
) -> None:
    """Hold the answer against every other way to it, from the hand calculation to three dimensions.

    DESIGN is a design file, or the name of a bundled example. Ends with code 3 if the default answer's EMF differs from
    the three-dimensional one by more than 2 %; the result is written all the same.
    """
    with told_errors(verbose):
        from fieldrun.generator.machine import read_design
        from fieldrun.outputs.folder import check_replaceable
        from fieldrun.outputs.progress import steps_told
        from fieldrun.outputs.verify_file import verify_text, write_verify
        from fieldrun.outputs.verify_table import show_verify
        from fieldrun.studies.verify import verify as hold_against
        from fieldrun.studies.ways import WAYS

        path = _design_path(design)
        checked = read_design(path)
        folder = out or _folder_for(path)
        check_replaceable(folder, checked.name, force=force)
        with steps_told(len(WAYS), quiet=quiet) as tell:
            comparison = hold_against(checked, tell)
        write_verify(comparison, folder, pictures=pictures)
        for text in checked.notes:
            click.echo(f"note: {text}", err=True)
        if as_json:
            click.echo(verify_text(comparison).encode(), nl=False)
        else:
            show_verify(comparison, detail=verbose - quiet)
        if not (as_json or quiet):
            click.echo(f"\nWritten to {folder}: verify.json" + (", verify.png, verify.svg" if pictures else ""))
        if not comparison.holds:
            sys.exit(CHECK_FAILED)


@main.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--from", "example", metavar="EXAMPLE", help="Copy a bundled example (default: hut-charger).")
@click.option("--ask", is_flag=True, help="Ask eight plain questions and write the design from the answers.")
@click.option("--force", is_flag=True, help="Overwrite FILE.")
def new(file: Path | None, example: str | None, ask: bool, force: bool) -> None:
    """Write a new design file to start from, or list the bundled examples if no FILE is given."""
    with told_errors(verbose=False):
        from fieldrun.design.errors import Fault
        from fieldrun.design.examples import example_description, example_names
        from fieldrun.design.starter import QUESTIONS, ask_questions

        if file is None and not ask:
            for name in example_names():
                click.echo(f"{name:16} {example_description(name)}")
            return
        if ask and example:
            raise DesignError([Fault("--ask", "goes without --from: the answers make a design of their own")])
        file = file or Path("my-charger.toml")
        if file.exists() and not force:
            raise DesignError([Fault("FILE", f"{file} exists; give another name or --force")])
        if ask:
            text = ask_questions({question.key: _answer(question) for question in QUESTIONS}, file.stem)
        else:
            text = _example(example or "hut-charger").read_text(encoding="utf-8")
        try:
            file.write_text(text, encoding="utf-8")
        except OSError as error:
            raise FieldrunError(f"cannot write {file}: {error.strerror}") from error
        click.echo(f"{file} written; now: fieldrun run {shlex.quote(str(file))}")


def _design_path(design: str) -> Path:
    """A file of that name, else the bundled example of that name (result folders bear it too), else a missing file."""
    from fieldrun.design.errors import Fault
    from fieldrun.design.examples import example_names, example_path
    from fieldrun.design.nearest import nearest

    if Path(design).is_file():
        return Path(design)
    if design in example_names():
        return example_path(design)
    if not Path(design).exists() and design == Path(design).stem:
        meant = nearest(design, example_names())
        hint = f"did you mean {meant}?" if meant else f"the examples are {', '.join(example_names())}"
        raise DesignError([Fault("", f"there is no such file, and no bundled example of that name; {hint}", design)])
    return Path(design)


def _folder_for(design: Path) -> Path:
    """A folder named after the design, in the current one; a design file without an ending has that name itself."""
    return Path(design.stem if design.suffix else f"{design.name}-result")


def _example(name: str) -> Path:
    from fieldrun.design.errors import Fault
    from fieldrun.design.examples import example_names, example_path

    if name not in example_names():
        raise DesignError(
            [Fault("--from", f"no bundled example is called {name}; there are {', '.join(example_names())}")]
        )
    return example_path(name)


def _answer(question: "Question") -> str:
    """Ask until the answer can be understood."""
    from fieldrun.design.starter import complaint

    while True:
        answer: str = click.prompt(question.text, default=question.default)
        wrong = complaint(question.key, answer)
        if not wrong:
            return answer
        click.echo(wrong, err=True)


@main.command()
def doctor() -> None:
    """Tell what is installed, whether gmsh can load, and what to install if something is missing."""
    with told_errors(verbose=False):
        from fieldrun.outputs.doctor import diagnosis

        lines, complete = diagnosis()
        for line in lines:
            click.echo(line)
        if not complete:
            sys.exit(MISSING)


@main.command()
def schema() -> None:
    """Print the JSON Schema of the design file, for editors that check while you type."""
    with told_errors(verbose=False):
        import json

        from fieldrun.design.file_model import schema as file_schema

        click.echo(json.dumps(file_schema(), indent=1))
