"""All that a sweep leaves in its folder: tables, JSON, the best points, pictures."""

import csv
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fieldrun.outputs.file_names import SWEEP_BEST, SWEEP_DRAWN
from fieldrun.outputs.folder import comment_lines
from fieldrun.outputs.sweep_file import columns_of, facts_of, replace_text, row_cells, shown_cell, write_sweep
from fieldrun.studies.sweep.best import ranking
from fieldrun.studies.sweep.choice import FEW, Choice
from fieldrun.studies.sweep.record import Sweep


def best_text(sweep: Sweep, choice: Choice) -> str:
    """`best.csv`: the best few by each goal and the whole front, as in the table of all points, with rank and front.

    `rank_...` counts from 1, the best, over all points, equal ones in the plan's order; `pareto` is true for points
    that none betters in both goals.
    """
    ranks = [_ranks(sweep, choice, number) for number in range(len(choice.goals))]
    listed = {place for rank in ranks for place, at in rank.items() if at <= FEW} | set(choice.pareto)
    out = io.StringIO()
    facts = facts_of(sweep) | {"best": ", ".join(goal.told for goal in choice.goals)}
    out.writelines(comment_lines(facts))
    table = csv.writer(out, lineterminator="\n")
    front = set(choice.pareto)
    names = [f"rank_{goal.key}" for goal in choice.goals]
    table.writerow([*columns_of(sweep)[:-2], *names, *(["pareto"] if len(ranks) == 2 else [])])
    for place in sorted(listed, key=lambda at: [rank.get(at, len(sweep.rows)) for rank in ranks]):
        more: list[Any] = [rank.get(place) for rank in ranks] + ([place in front] if len(ranks) == 2 else [])
        table.writerow([shown_cell(cell) for cell in [*row_cells(sweep.rows[place])[:-2], *more]])
    return out.getvalue()


def _ranks(sweep: Sweep, choice: Choice, number: int) -> dict[int, int]:
    """Rank of every point that has a value."""
    goal = choice.goals[number]
    order = ranking(sweep.column(goal.key), largest=goal.largest)
    return {int(place): rank for rank, place in enumerate(order, start=1)}


def best_dict(sweep: Sweep, choice: Choice) -> dict[str, Any]:
    """Entries of the JSON: `best` of each goal, and of two goals `pareto`; nothing unless asked for."""
    if not choice.goals:
        return {}
    best = [
        {
            "key": one.goal.key,
            "direction": "max" if one.goal.largest else "min",
            "index": sweep.rows[one.index].index,
            "value": one.value,
            "at": {k: v for k, v in zip(sweep.keys, sweep.rows[one.index].values, strict=True) if v is not None},
            "as_good": one.equals,
            "points": one.among,
        }
        for one in choice.best
    ]
    front = [sweep.rows[place].index for place in choice.pareto]
    return {"best": best} | ({"pareto": front} if len(choice.goals) == 2 else {})


def leave_sweep(sweep: Sweep, choice: Choice, folder: Path, *, pictures: bool = True) -> list[str]:
    """Write everything, and take away what an earlier sweep left there and this one does not have.

    Returns
    -------
    Remarks for the user: why no picture was drawn.

    Raises
    ------
    FieldrunError
        If the folder cannot be written.
    """
    write_sweep(sweep, folder, best_dict(sweep, choice))
    if choice.best:
        replace_text(folder / SWEEP_BEST, best_text(sweep, choice))
    else:
        (folder / SWEEP_BEST).unlink(missing_ok=True)
    drawn, remarks = _drawn(sweep, choice) if pictures else ({}, [])
    for name in SWEEP_DRAWN - {f"{stem}.{end}" for stem in drawn for end in ("svg", "png")}:
        (folder / name).unlink(missing_ok=True)
    if drawn:
        _save(sweep, folder, drawn)
    return remarks


def _drawn(sweep: Sweep, choice: Choice) -> tuple[dict[str, Any], list[str]]:
    """Figures by the stem of their file."""
    from fieldrun.outputs.sweep_pictures.draw import sweep_picture, why_no_picture
    from fieldrun.outputs.sweep_pictures.pareto import pareto_picture
    from fieldrun.outputs.sweep_pictures.view import view_of

    view = view_of(sweep, choice)
    if why := why_no_picture(view):
        # a sweep without any answer is told about already
        return {}, [f"no picture: {why}"] if sweep.of_status("ok") else []
    pareto = {"pareto": pareto_picture(view)} if choice.pareto else {}
    return {"sweep": sweep_picture(view), **pareto}, []


def _save(sweep: Sweep, folder: Path, drawn: dict[str, Any]) -> None:
    """Write pictures beside the folder's files, then put each in its place: none is ever half there."""
    from fieldrun.design.errors import FieldrunError
    from fieldrun.outputs.beside import worked_in
    from fieldrun.outputs.style import save_figure

    try:
        with worked_in(folder.resolve()) as beside:
            for file in _files(sweep, beside, drawn, save_figure):
                file.replace(folder / file.name)
    except OSError as error:
        raise FieldrunError(f"cannot write pictures to {folder}: {error.strerror or error}") from error


def _files(sweep: Sweep, folder: Path, drawn: dict[str, Any], save: Any) -> Iterator[Path]:
    facts = {key: value for key, value in facts_of(sweep).items() if key != "fieldrun"}
    for stem, figure in drawn.items():
        yield from save(figure, folder, stem, facts)
