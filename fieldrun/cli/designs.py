"""Where a command finds its design, and where it leaves what follows from it."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldrun.design.errors import DesignError

if TYPE_CHECKING:
    from fieldrun.design.model import Design

Command = Callable[..., None]
"""A function that becomes a command."""


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


def design_path(design: str) -> Path:
    """A file of that name, else the bundled example of that name (result folders bear it too), else a missing file.

    Raises
    ------
    DesignError
        If a bare word is neither a file nor an example.
    """
    from fieldrun.design.errors import Fault
    from fieldrun.design.examples import example_names, example_path
    from fieldrun.design.nearest import nearest
    from fieldrun.design.text_file import is_file, is_there

    if is_file(Path(design)):
        return Path(design)
    if design in example_names():
        return example_path(design)
    if not is_there(Path(design)) and design == Path(design).stem:
        meant = nearest(design, example_names())
        hint = f"did you mean {meant}?" if meant else f"the examples are {', '.join(example_names())}"
        raise DesignError([Fault("", f"there is no such file, and no bundled example of that name; {hint}", design)])
    return Path(design)


def design_and_folder(design: str, out: Path | None, *, force: bool) -> "tuple[Path, Design, Path]":
    """A design's path, what it says, and the folder for its results, which may be written: before anything is solved.

    Raises
    ------
    DesignError
        If the design has faults, or the folder holds something else.
    """
    from fieldrun.generator.machine import read_design
    from fieldrun.outputs.folder import check_replaceable

    path = design_path(design)
    checked = read_design(path)
    folder = out or folder_for(path)
    check_replaceable(folder, checked.name, force=force)
    return path, checked, folder


def tell_remarks(notes: Iterable[str], warnings: Iterable[str] = ()) -> None:
    """Say beside the answer what its reader should know: standard output may be JSON."""
    for remark in [f"warning: {text}" for text in warnings] + [f"note: {text}" for text in notes]:
        click.echo(remark, err=True)


def folder_for(design: Path) -> Path:
    """A folder named after the design, in the current one; a design file without an ending has that name itself."""
    return Path(design.stem if design.suffix else f"{design.name}-result")
