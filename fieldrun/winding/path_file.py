"""A winding of the user's own, from a CSV file. Not read yet: every path is refused."""

from pathlib import Path

from fieldrun.design.errors import Fault
from fieldrun.design.model import Winding


def path_faults(winding: Winding, folder: Path) -> list[Fault]:
    """Refuse every path: this is being written."""
    return [Fault("winding.shape", f'cannot read {folder / winding.file} yet; shape = "path" is being written')]
