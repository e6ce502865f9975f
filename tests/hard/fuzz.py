"""Mutants of everything that fieldrun reads, by the thousand: each is answered or told what is wrong with it.

`.venv/bin/python tests/hard/fuzz.py --count 5000 --seed 1` from the project's folder; `--only 17` shows one again.
A mutant breaks the house if anything but a message of ours comes out: an exception, NaN, an odd exit code, a message
that steers the terminal, or twenty seconds without an answer.
"""

import argparse
import contextlib
import json
import os
import re
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random

from click.testing import CliRunner, Result
from mutators import DESIGN, Mutant, mutant

from fieldrun.cli import main as fieldrun
from fieldrun.design.errors import DesignError, FieldrunError, SolveError
from fieldrun.design.examples import example_path
from fieldrun.design.readings import read_readings, read_scan
from fieldrun.field.banded import one_thread
from fieldrun.generator.machine import open_design, read_design, run
from fieldrun.generator.result import RunResult
from fieldrun.outputs.answer import answer_dict
from fieldrun.outputs.measured_file import measured_text
from fieldrun.outputs.measured_told import verdict
from fieldrun.outputs.sweep_file import csv_text, sweep_text
from fieldrun.studies.measured.study import measured
from fieldrun.studies.sweep.axes import read_axes
from fieldrun.studies.sweep.plan import grid, table
from fieldrun.studies.sweep.points import resolve
from fieldrun.studies.sweep.run import Request, run_sweep

CPU_S, WAIT_S = 20, 300
"""Time of this process that a mutant may take, and time of the clock, in which it may be waiting for ever."""

MEMORY_BYTES = 6 * 2**30

NO_NUMBER = re.compile(r"(?<![\w.\"])-?(nan|inf|infinity)(?![\w.\"])", re.IGNORECASE)
"""In quotes it is a title of the user's, no number of ours."""

STEERS = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e]")

ODD = frozenset({"broken", "unsolved", "refused"})
"""What is looked at; only the first is a defect for certain."""

GOOD_EXITS = {0: "answered", 2: "told"}


class BrokenError(Exception):
    """A mutant that came out otherwise than it must."""


@dataclass(frozen=True)
class Way:
    """How thoroughly mutants are tried: which share of the sound ones is run, of all by the command line."""

    runs: float = 0.2
    by_command: float = 0.2


# --- one mutant ---------------------------------------------------------------


def attempt(made: Mutant, dice: Random, way: Way) -> str:
    """What became of a mutant whose files lie in the current folder; raises whatever comes out of fieldrun."""
    if made.kind in OTHER_WAYS:
        return OTHER_WAYS[made.kind]()
    if dice.random() < way.by_command:
        return by_command(made, dice, way)
    return whole(Path(DESIGN)) if dice.random() < way.runs else sound(Path(DESIGN))


def sound(path: Path) -> str:
    """A design is read, or told about."""
    read_design(path)
    return "sound"


def whole(path: Path) -> str:
    """A design is answered, and no number of it is none."""
    finite(json.dumps(answer_dict_of(run(read_design(path))), allow_nan=False))
    return "answered"


def answer_dict_of(result: RunResult) -> object:
    from fieldrun.outputs.result_file import result_dict

    return result_dict(result)


def by_command(made: Mutant, dice: Random, way: Way) -> str:
    """The same from the command line, up to the files that it leaves; sound designs only now and then."""
    try:
        read_design(Path(DESIGN))
    except DesignError:
        return commanded(["run", DESIGN, "-o", "out", *made.options])
    if dice.random() > way.runs:
        return "sound"
    return commanded(["run", DESIGN, "-o", "out", "--no-pictures", "--no-advice", *made.options])


def commanded(words: list[str]) -> str:
    """A command ends with a code of ours and with files that can be read."""
    result = CliRunner().invoke(fieldrun, words)
    unforeseen(result)
    if result.exit_code == 2 and not re.search(r"^\d+ faults?, nothing was run$", result.stderr, re.MULTILINE):
        raise BrokenError(f"not told how many faults: {result.stderr!r}")
    clean(result.stdout + result.stderr)
    finite(result.stdout)
    left = sorted(path.name for path in Path().iterdir() if path.name.startswith(".out-"))
    if left or (result.exit_code != 0 and Path("out").exists()):
        raise BrokenError(f"half-written: {left}")
    for file in Path("out").glob("*.json"):
        json.loads(file.read_text(encoding="utf-8"), parse_constant=refuse)
    for file in Path("out").glob("*.*"):
        if file.suffix in {".txt", ".csv", ".html"}:
            finite(re.sub(r"<(script|style).*?</\1>", "", file.read_text(encoding="utf-8"), flags=re.DOTALL))
    return GOOD_EXITS[result.exit_code]


def refuse(word: str) -> object:
    raise BrokenError(f"{word} in JSON")


def unforeseen(result: Result) -> None:
    """A command under CliRunner may only end by a code of ours."""
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    if result.exit_code == 1 and "fieldrun: " in result.stderr and "Error: " not in result.stderr:
        raise SolveError(result.stderr)
    if result.exit_code not in GOOD_EXITS:
        raise BrokenError(f"exit code {result.exit_code}: {result.stderr}")


def finite(text: str) -> None:
    """No number is told that is none."""
    if found := NO_NUMBER.search(text):
        raise BrokenError(f"not a number: {text[max(0, found.start() - 60) : found.end() + 20]!r}")


def clean(text: str) -> None:
    """What is told cannot steer a terminal."""
    if found := STEERS.search(text):
        raise BrokenError(f"steers the terminal: {text[max(0, found.start() - 60) : found.end() + 20]!r}")


@cache
def hut() -> RunResult:
    return run(read_design(example_path("hut-charger")))


def bench() -> str:
    """Readings are held against the charger that they are of."""
    read = read_readings(Path("readings.csv"))
    scan = read_scan(Path("scan.csv")) if Path("scan.csv").exists() else None
    found = measured(hut(), read, scan)
    finite(json.dumps(json.loads(measured_text(found), parse_constant=refuse)))
    finite(" ".join(verdict(found)))
    return "answered"


def swept_points() -> str:
    """A table of points becomes designs, or reasons why not."""
    plan = table(Path("points.csv"))
    if plan.count > 50:
        return "sound"
    made = resolve(open_design(Path(DESIGN)), plan, {})
    for reason in made.reasons.values():
        clean(reason)
    return "sound"


def journal_request(path: Path) -> Request:
    plan = grid(read_axes(["load.voltage_v=6,7", "wire.temperature_c=20,60"], sampled=False))
    return Request(
        open_design(path), read_design(path), plan, ("emf.rms_v_per_krpm", "winding.rounds_per_phase"), answer_dict, {}
    )


def resumed() -> str:
    """A sweep goes on from its journal, or says what is wrong with it; what is missing is solved again."""
    swept = run_sweep(journal_request(Path(DESIGN)), Path("journal"))
    json.loads(sweep_text(swept), parse_constant=refuse)
    clean(csv_text(swept).replace("\r\n", "\n"))
    return "answered"


@cache
def whole_journal() -> bytes:
    """A finished sweep's journal."""
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        Path(DESIGN).write_bytes(example_path("plank-ring").read_bytes())
        run_sweep(journal_request(Path(DESIGN)), Path("journal"))
        return Path("journal").read_bytes()


OTHER_WAYS: dict[str, Callable[[], str]] = {"readings": bench, "points": swept_points, "journal": resumed}


# --- many ---------------------------------------------------------------------


def put(made: Mutant) -> None:
    """Write a mutant's files into the current folder."""
    for name, content in made.files.items():
        if isinstance(content, bytes):
            Path(name).write_bytes(content)
        elif content == "folder":
            Path(name).mkdir()
        elif content == "fifo":
            os.mkfifo(name)
        else:
            Path(name).symlink_to("/dev/zero" if content == "endless" else name)


@contextlib.contextmanager
def limited() -> Iterator[None]:
    """End what takes too long, by the clock of this process: other people's work on the machine does not count."""

    def over(signum: int, _: object) -> None:
        raise BrokenError(f"no answer after {CPU_S if signum == signal.SIGPROF else WAIT_S} s")

    before = {sign: signal.signal(sign, over) for sign in (signal.SIGPROF, signal.SIGALRM)}
    signal.setitimer(signal.ITIMER_PROF, CPU_S)
    signal.setitimer(signal.ITIMER_REAL, WAIT_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.setitimer(signal.ITIMER_REAL, 0)
        for sign, handler in before.items():
            signal.signal(sign, handler)


def outcome(made: Mutant, dice: Random, way: Way) -> tuple[str, str]:
    """What became of a mutant, and the details if it broke the house."""
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        put(made)
        try:
            with limited():
                return attempt(made, dice, way), ""
        except DesignError as error:
            return _told(error)
        except SolveError as error:
            return "unsolved", str(error)
        except FieldrunError as error:
            return "refused", str(error)
        except Exception as error:  # noqa: BLE001 - that is what is looked for
            return "broken", _where(error) + "\n" + traceback.format_exc()


def _told(error: DesignError) -> tuple[str, str]:
    text = str(error)
    faults = [str(fault) for fault in error.faults]
    if not faults or not all(fault.text.strip() for fault in error.faults):
        return "broken", f"a fault without words: {text!r}"
    if found := next(filter(STEERS.search, faults), None) or next((fault for fault in faults if "\n" in fault), None):
        return "broken", f"Steers the terminal\n{found[:500]!r}"
    if found := next((fault for fault in faults if len(fault) > 2000), None):
        return "broken", f"Longer than a screen\n{found[:300]!r}"
    return "told", ""


def _where(error: Exception) -> str:
    """The error and the line of fieldrun's that it came from: one defect, one name."""
    frames = [frame for frame in traceback.extract_tb(error.__traceback__) if "/fieldrun/" in frame.filename]
    last = f"{Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else "?"
    detail = str(error)[:160] if isinstance(error, BrokenError) else ""
    return f"{type(error).__name__} {last} {detail}".strip()


def hunt(
    count: int, seed: int, way: Way, first: int = 0, tell: Callable[[int, str, str], None] = lambda *_: None
) -> tuple[Counter[str], dict[int, tuple[str, str]]]:
    """Try mutants by number.

    Returns
    -------
    How many of each kind came out how, and all that broke the house or went unsolved, with details.
    """
    classes: Counter[str] = Counter()
    odd: dict[int, tuple[str, str]] = {}
    with one_thread():
        for number in range(first, first + count):
            made = mutant(seed, number, whole_journal())
            became, detail = outcome(made, Random(f"{seed}:{number}"), way)  # noqa: S311
            classes[f"{made.kind} {became}"] += 1
            if became in ODD:
                odd[number] = became, detail
            tell(number, became, detail)
    return classes, odd


def shown(classes: Counter[str]) -> str:
    kinds = sorted({key.split()[0] for key in classes})
    ways = sorted({key.split()[1] for key in classes})
    rows = [["", *ways], *([kind, *(str(classes[f"{kind} {way}"]) for way in ways)] for kind in kinds)]
    rows.append(["all", *(str(sum(classes[f"{kind} {way}"] for kind in kinds)) for way in ways)])
    return "\n".join("".join(f"{cell:>11}" for cell in row) for row in rows)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--only", type=int, help="one mutant, its files in /tmp/mutant-SEED-NUMBER")
    parser.add_argument("--runs", type=float, default=Way.runs, help="share of sound designs that are run")
    asked = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    way = Way(asked.runs)
    if asked.only is not None:
        return _one(asked.seed, asked.only, way)
    begun = time.monotonic()
    classes, odd = hunt(asked.count, asked.seed, way, asked.first, _progress)
    print(shown(classes))
    names = Counter(f"{became}: {detail.splitlines()[0]}" for became, detail in odd.values())
    for name, times in names.most_common():
        numbers = [number for number, (became, detail) in odd.items() if f"{became}: {detail.splitlines()[0]}" == name]
        print(f"\n{times} x {name}\n   --seed {asked.seed} --only {numbers[:6]}")
    print(
        f"\n{sum(classes.values())} mutants in {time.monotonic() - begun:.0f} s, "
        f"{time.process_time():.0f} s of it computing"
    )
    return int(any(became == "broken" for became, _ in odd.values()))


def _one(seed: int, number: int, way: Way) -> int:
    made = mutant(seed, number, whole_journal())
    folder = Path("/tmp") / f"mutant-{seed}-{number}"  # noqa: S108
    folder.mkdir(exist_ok=True)
    with contextlib.chdir(folder), contextlib.suppress(FileExistsError):
        put(made)
    became, detail = outcome(made, Random(f"{seed}:{number}"), way)  # noqa: S311
    print(f"{made.kind} {became}; its files are in {folder}\n{detail}")
    return int(became == "broken")


def _progress(number: int, became: str, detail: str) -> None:
    """Every hundredth number, and at once what is odd: the whole may take an hour."""
    if became in ODD:
        print(f"{number} {became}: {detail.splitlines()[0]}", file=sys.stderr, flush=True)
    elif number % 100 == 0:
        print(f"{number} ...", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
