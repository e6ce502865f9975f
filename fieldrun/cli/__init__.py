"""Arguments, exit codes, messages: nothing else. Heavy libraries are imported inside the commands."""

try:
    import click
except ImportError as error:  # before anything that could say so in its own way: `fieldrun doctor` needs it too
    import sys

    sys.stderr.write(f"fieldrun: click does not load ({error}): pip install --force-reinstall click\n")
    sys.exit(4)

from fieldrun import __version__
from fieldrun.cli.about import doctor, schema
from fieldrun.cli.compare import compare
from fieldrun.cli.errors import show_anything
from fieldrun.cli.estimates import estimates
from fieldrun.cli.field import field
from fieldrun.cli.former import former
from fieldrun.cli.measured import measured
from fieldrun.cli.new import new
from fieldrun.cli.report import report
from fieldrun.cli.run import run
from fieldrun.cli.sweep import sweep
from fieldrun.cli.verify import verify


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="fieldrun")
def main() -> None:
    """Volts, ohms and grams of a hand-wound ironless disc generator, before a metre of wire is spent.

    Start with `fieldrun run hut-charger`, or write a design of your own with `fieldrun new my-charger.toml --ask`.
    """
    show_anything()


for command in (run, compare, sweep, verify, estimates, measured, field, former, report, new, doctor, schema):
    main.add_command(command)


def answer() -> int | str | None:
    """The exit code of the command line; errors of arguments are told, Ctrl-C is the caller's.

    Raises
    ------
    KeyboardInterrupt
        Ctrl-C before a command had begun or after it was done.
    OSError
        If standard output cannot be written.
    SystemExit
        With the command's own exit code.
    """
    try:
        code = main(prog_name="fieldrun", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except click.Abort as error:
        raise KeyboardInterrupt from error
    return code if isinstance(code, int) else None
