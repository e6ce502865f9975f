"""`fieldrun new`: a design file to start from."""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldrun.cli.errors import told_errors
from fieldrun.design.errors import DesignError, FieldrunError

if TYPE_CHECKING:
    from fieldrun.design.starter_answers import Question


@click.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--from", "example", metavar="EXAMPLE", help="Copy a bundled example (default: hut-charger).")
@click.option("--ask", is_flag=True, help="Ask eight plain questions and write the design from the answers.")
@click.option("--force", is_flag=True, help="Overwrite FILE.")
def new(file: Path | None, example: str | None, ask: bool, force: bool) -> None:
    """Write a new design file to start from, or list the bundled examples if no FILE is given."""
    with told_errors(verbose=False):
        from fieldrun.design.errors import Fault
        from fieldrun.design.examples import example_description, example_names
        from fieldrun.design.starter import ask_questions
        from fieldrun.design.starter_answers import QUESTIONS
        from fieldrun.design.text_file import is_there

        if file is None and not ask:
            for name in example_names():
                click.echo(f"{name:16} {example_description(name)}")
            return
        if ask and example:
            raise DesignError([Fault("--ask", "goes without --from: the answers make a design of their own")])
        file = file or Path("my-charger.toml")
        if is_there(file) and not force:
            raise DesignError([Fault("FILE", f"{file} exists; give another name or --force")])
        if ask:
            text = ask_questions({question.key: _answer(question) for question in QUESTIONS}, file.stem)
        else:
            text = _example(example or "hut-charger").read_text(encoding="utf-8")
        try:
            file.write_text(text, encoding="utf-8")
        except OSError as error:
            cure = "; name a file in a folder of your own" if isinstance(error, PermissionError) else ""
            raise FieldrunError(f"cannot write {file}: {error.strerror}{cure}") from error
        click.echo(f"{file} written; now: fieldrun run {shlex.quote(str(file))}")


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
    from fieldrun.design.errors import Fault
    from fieldrun.design.starter_answers import complaint

    while True:
        try:
            answer: str = click.prompt(question.text, default=question.default)
        except click.Abort as error:
            if not isinstance(error.__context__, EOFError):  # Ctrl-C
                raise
            text = f"the answers end before {question.text!r}; nothing was written"
            raise DesignError([Fault("--ask", text)]) from None
        wrong = complaint(question.key, answer)
        if not wrong:
            return answer
        click.echo(wrong, err=True)
