"""Start commands and end them at random moments: one process loads the libraries, its children are what is ended.

`.venv/bin/python tests/hard/kills.py INT:6,KILL:10 run plank-ring -o out` prints a JSON object a line: what became of
each. Run it in an empty folder; in every second child's way lies an earlier whole result. What a killed one left is
then tidied up as the next command would do it, and looked at again.
"""

import json
import os
import random
import re
import shutil
import signal
import sys
import time
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NoReturn

from fieldrun.outputs.beside import tidy

EARLIEST_S = 0.005

MOST = 4
"""Tries for each that shall be hit: some are done before the signal comes."""

LAST_WORDS = 400


def main(words: Sequence[str]) -> None:
    signs, *command = words
    load()
    fresh(earlier=False)
    code, said, lasts = ended(command, None, 0.0)
    if code != 0:
        raise SystemExit(f"ended by itself with {code}: {said}")
    shutil.copytree("out", "whole")
    dice = random.Random(f"{command}")  # noqa: S311 - not a secret
    for text in signs.split(","):
        name, _, times = text.partition(":")
        lasts = struck(command, getattr(signal, f"SIG{name}"), int(times), dice, lasts)


def struck(command: Sequence[str], sign: signal.Signals, times: int, dice: random.Random, lasts: float) -> float:
    """End a command so many times, telling each; how long it takes undisturbed."""
    hit = 0
    for number in range(MOST * times):
        earlier = (number + times) % 2 == 1
        fresh(earlier=earlier)
        code, said, took = ended(command, sign, EARLIEST_S + dice.random() * lasts)
        found = left()
        tidy(Path("out"))
        told = {"sign": sign.name, "earlier": earlier, "code": code, "said": said[-LAST_WORDS:]}
        print(json.dumps(told | found | {"tidied": left()}), flush=True)
        hit += code != 0
        lasts = min(lasts, took) if code == 0 else lasts  # a machine that was busy at first is so no more
        if hit == times:
            break
    return lasts


def load() -> None:
    """Import what commands take, so that their children are at work from their first moment."""
    import fieldrun.cli
    import fieldrun.outputs.fields.field_file
    import fieldrun.outputs.former_file
    import fieldrun.outputs.measured_file
    import fieldrun.outputs.report.report_folder
    import fieldrun.outputs.run_folder
    import fieldrun.studies.compare
    import fieldrun.studies.verify  # noqa: F401


def ended(command: Sequence[str], sign: signal.Signals | None, after_s: float) -> tuple[int, str, float]:
    """Run a command in a child, send it a signal after a while: exit code (minus the signal), what it said, seconds."""
    ready, go = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(ready)
        become(command, go)
    os.close(go)
    os.read(ready, 1)
    os.close(ready)
    begun = time.monotonic()
    if sign is not None:
        time.sleep(after_s)
        os.kill(child, sign)  # a child that is done already waits for its parent as a zombie
    _, status = os.waitpid(child, 0)
    took = time.monotonic() - begun
    return os.waitstatus_to_exitcode(status), Path("said").read_text(encoding="utf-8"), took


def become(command: Sequence[str], go: int) -> None:
    """Be the command from here on, and never come back; what it says is kept in a file."""
    said = os.open("said", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.write(go, b"x")
    spoken(command, said)


def spoken(command: Sequence[str], said: int) -> NoReturn:
    """Be the command, with both streams into an open file."""
    os.dup2(said, 1)
    os.dup2(said, 2)
    code: Any = 77
    try:
        from fieldrun.__main__ import start

        sys.argv = ["fieldrun", *command]
        start()
    except SystemExit as leaving:
        code = leaving.code or 0
    except BaseException:  # noqa: BLE001 - what a user would see
        traceback.print_exc()
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


def fresh(*, earlier: bool) -> None:
    """Only what is whole, and an earlier result or none."""
    for path in Path().iterdir():
        if path.name not in {"whole", "said"}:
            shutil.rmtree(path)
    if earlier:
        shutil.copytree("whole", "out")


def left() -> dict[str, Any]:
    """What lies there now: whether there is a result and whether every file of it is whole; what is left over."""
    hidden = sorted(path for path in Path().iterdir() if path.name.startswith(".out-"))
    return {
        "out": whole(Path("out")) if Path("out").exists() else None,
        "hidden": len(hidden),
        "kept": any(map(whole, hidden)),
    }


def whole(folder: Path) -> bool:
    """Whether a folder holds the very bytes of the run that was not disturbed, but for the seconds that it took."""
    return contents(folder) == contents(Path("whole"))


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: re.sub(rb'"time_s": [-+.e\d]+', b"", path.read_bytes()) for path in folder.iterdir()}


if __name__ == "__main__":
    main(sys.argv[1:])
