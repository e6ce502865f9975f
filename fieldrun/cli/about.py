"""`fieldrun doctor` and `fieldrun schema`: about the program itself."""

import sys

import click

from fieldrun.cli.errors import MISSING, told_errors


@click.command()
def doctor() -> None:
    """Tell what is installed, whether gmsh can load, and what to install if something is missing."""
    with told_errors(verbose=False):
        from fieldrun.outputs.doctor import diagnosis

        lines, complete = diagnosis()
        for line in lines:
            click.echo(line)
        if not complete:
            sys.exit(MISSING)


@click.command()
def schema() -> None:
    """Print the JSON Schema of the design file, for editors that check while you type."""
    with told_errors(verbose=False):
        import json

        from fieldrun.design.file_model import schema as file_schema

        click.echo(json.dumps(file_schema(), indent=1))
