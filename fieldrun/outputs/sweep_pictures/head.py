"""What a picture of a sweep says in words: its title, the best point, what was left out."""

from fieldrun.outputs.sentences import listed, plain
from fieldrun.outputs.sweep_best_told import best_sentence
from fieldrun.outputs.sweep_pictures.page import Words
from fieldrun.outputs.sweep_pictures.view import View
from fieldrun.outputs.sweep_told import counted
from fieldrun.outputs.sweep_words import named, words_of


def words_for(view: View, *notes: str, quantity: str = "") -> Words:
    """Title, sentences and small print.

    Parameters
    ----------
    view : what is shown
    notes : further small print
    quantity : named in the title, if there is just one
    """
    over = listed([words_of(one.key)[0] for one in view.varied])
    what = f"{words_of(quantity)[0]} over" if quantity else "what changes with"
    said = [best_sentence(view.sweep, best) for best in view.choice.best] or [counted(view.sweep)]
    return Words(f"{view.sweep.design.title}: {what} {over}", said, [note for note in notes if note])


def fixed_note(view: View) -> str:
    """Keys of the plan that have one value only, and picks that are the same everywhere."""
    moving = {one.key for one in view.varied}
    first = view.sweep.rows[0]
    values = zip(view.sweep.keys, first.values, strict=True)
    fixed = [named(key, value) for key, value in values if key not in moving and value is not None]
    same = [_same(view, key) for key in view.constant if key not in view.quantities]
    return f"The same everywhere: {', '.join([*fixed, *same])}." if fixed or same else ""


def _same(view: View, key: str) -> str:
    words, unit = words_of(key)
    return f"{words} {plain(float(view.values(key).compressed()[0]), unit)}"
