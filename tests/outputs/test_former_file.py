"""What `former` leaves: its files and no others, the same bytes again, tables that add up, titles that do no harm."""

import csv
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest

from fieldrun.generator.result import RunResult
from fieldrun.outputs.drawings import plate_solid
from fieldrun.outputs.drawings.pdf_page import Paper
from fieldrun.outputs.file_names import EVERY_FILE, FORMER_FILES, RECORDS
from fieldrun.outputs.former_file import write_former
from fieldrun.outputs.former_told import former_sentences
from fieldrun.winding.former import former_of

NASTY = '<script>alert(1)</script> "quoted" ../../etc/passwd\n' + "long " * 40


def written(result: RunResult, folder: Path) -> tuple:
    return write_former(result, former_of(result.design, result.lay), folder, Paper(result.design.former.sheet))


def table(file: Path) -> list[dict[str, str]]:
    lines = [line for line in file.read_text().splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@pytest.fixture(autouse=True)
def _no_solids(monkeypatch: pytest.MonkeyPatch) -> None:
    """Solids have tests of their own; without gmsh these are quick."""
    monkeypatch.setattr(plate_solid, "gmsh_state", lambda: (False, "no gmsh here"))


@pytest.fixture(scope="module")
def hut(bundled: Callable, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The hut charger's files, written once."""
    folder = tmp_path_factory.mktemp("former") / "out"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plate_solid, "gmsh_state", lambda: (False, "no gmsh here"))
        written(bundled("hut-charger"), folder)
    return folder


def test_its_files_are_known_to_the_house() -> None:
    assert FORMER_FILES <= EVERY_FILE
    assert "former.json" in RECORDS


def test_without_gmsh_all_but_the_solids_are_written(bundled: Callable, tmp_path: Path) -> None:
    _, missing = written(bundled("plank-ring"), tmp_path / "out")
    assert missing == "no gmsh here"
    assert names(tmp_path / "out") == FORMER_FILES - {"former.step", "former.stl"}


def test_bytes_are_stable(hut: Path, bundled: Callable, tmp_path: Path) -> None:
    written(bundled("hut-charger"), tmp_path / "again")
    assert names(hut) == names(tmp_path / "again")
    for file in hut.iterdir():
        assert file.read_bytes() == (tmp_path / "again" / file.name).read_bytes(), file.name


def test_every_file_says_where_it_comes_from(hut: Path, bundled: Callable) -> None:
    result = bundled("hut-charger")
    for file in hut.iterdir():
        if file.suffix == ".pdf":
            with pypdfium2.PdfDocument(file) as document:
                text = document.get_metadata_dict()["Subject"]
        else:
            text = file.read_text(encoding="utf-8")
        assert result.design_hash in text, file.name
        assert "percent of the EMF" in text, file.name


def test_steps_and_wire_list_agree_with_the_result(hut: Path, bundled: Callable) -> None:
    result = bundled("hut-charger")
    steps, cuts = table(hut / "winding-steps.csv"), table(hut / "wire-list.csv")
    assert [int(row["step"]) for row in steps] == list(range(1, len(steps) + 1))
    for k, letter in enumerate("ABC"):
        length = result.impedance.phase_lengths_m[k]
        walked = sum(float(row["length_mm"]) for row in steps if row["phase"] == letter and row["way"] != "link")
        assert walked == pytest.approx(1000 * length, rel=1e-8)
        (cut,) = (row for row in cuts if row["phase"] == letter)
        bare = float(cut["cut_m"]) - float(cut["tails_m"]) - float(cut["spare_m"]) - float(cut["links_m"])
        assert bare == pytest.approx(length, rel=1e-9)
    assert steps[0] | {"length_mm": ""} == {
        "step": "1",
        "phase": "A",
        "layer": "1",
        "half": "1",
        "round": "1",
        "from": "A1",
        "to": "A2",
        "way": "outward",
        "sheet": "2",
        "wires_between": "0",
        "length_mm": "",
    }


def test_the_record_names_every_station(bundled: Callable, tmp_path: Path) -> None:
    result = bundled("quiet-halbach")
    printed, _ = written(result, tmp_path / "out")
    record = json.loads((tmp_path / "out/former.json").read_text())
    assert (record["schema"], record["name"], record["design_hash"]) == (1, "quiet-halbach", result.design_hash)
    assert len(record["stations"]) == 96
    assert record["stations"][1]["kind"] == "corner"
    assert record["sheets"] == {"paper": "A4", "former": 1, "pages": printed.pages}
    assert record["board"]["notch_mm"] == pytest.approx(2.078, abs=1e-3)
    assert record["casting"]["air_mm"] == pytest.approx(1)


def test_pages_hold_what_the_workshop_needs(hut: Path) -> None:
    with pypdfium2.PdfDocument(hut / "former.pdf") as document:
        text = [page.get_textpage().get_text_bounded() for page in document]
    titles = [
        "winding former",
        "magnets of the lower disc",
        "magnets of the upper disc",
        "former over the lower magnets",
    ]
    titles += ["how to wind it", "wire to cut", "casting", "what your meter should read"]
    found = [next(i for i, page in enumerate(text) if f"Hut charger: {title}" in page) for title in titles]
    assert found == sorted(found)
    whole = "\n".join(text)
    for words in ("Print at 100 %", "Star point: join end A", "resin to mix", "jacking screws", "between lines"):
        assert words in whole


def test_a_title_does_no_harm_anywhere(bundled: Callable, tmp_path: Path) -> None:
    result = bundled("plank-ring")
    result = replace(result, design=replace(result.design, title=NASTY))
    written(result, tmp_path / "out")
    assert names(tmp_path / "out") <= FORMER_FILES
    for file in (tmp_path / "out").glob("*.svg"):
        assert "<script" not in file.read_text()
    for file in (tmp_path / "out").glob("*.csv"):
        assert "script" not in file.read_text()
    dxf = (tmp_path / "out/former_mm.dxf").read_text(encoding="ascii").splitlines()
    assert len(dxf) % 2 == 0
    assert all(code.strip().isdigit() for code in dxf[::2])


SENTENCES = {
    "hut-charger": (
        {},
        [
            (
                "The former is a board 170 mm across and 4 mm thick with 48 notches 1.56 mm wide: 24 at the inner ends "
                "and 24 at the outer ends."
            ),
            "It fits on one sheet of A4; print former.pdf at 100 % and measure both bars before you cut.",
            "Cut 27.7 m of wire for each phase, tails and spare included: 83.1 m, 240 g of copper in all.",
            "Cast it 5.43 mm thick: 47.3 g of resin to mix, with what is lost.",
        ],
    ),
    "quiet-halbach": (
        {},
        [
            (
                "The former is a board 184 mm across and 4 mm thick with 48 notches 2.08 mm wide and 48 pins of 2 mm: "
                "24 at the inner ends, 24 at the outer ends and 48 between them."
            )
        ],
    ),
    "plank-ring": (
        {"winding.outer_radius_mm": 95, "former.ends": "pins", "former.sheet": "Letter"},
        [
            (
                "The former is a board 202 mm across and 4 mm thick with 72 pins 2.00 mm thick: 36 at the inner ends "
                "and 36 at the outer ends."
            ),
            (
                "It takes 2 sheets of Letter, glued together by their crosses, for nothing is shrunk; print former.pdf "
                "at 100 % and measure both bars before you cut."
            ),
        ],
    ),
}


@pytest.mark.parametrize("example", SENTENCES)
def test_sentences(example: str, answered: Callable, bundled: Callable, tmp_path: Path) -> None:
    changes, wanted = SENTENCES[example]
    result = answered(example, changes) if changes else bundled(example)
    printed, _ = written(result, tmp_path / "out")
    assert former_sentences(result, former_of(result.design, result.lay), printed)[: len(wanted)] == wanted


def test_thin_teeth_and_bobbins_are_told(answered: Callable, tmp_path: Path) -> None:
    changes = {"winding.layers": 1, "winding.former_in_gap_mm": 2, "former.comb": "all", "winding.rounds": 2}
    result = answered("hut-charger", changes)
    printed, _ = written(result, tmp_path / "out")
    told = " ".join(former_sentences(result, former_of(result.design, result.lay), printed))
    assert 'which breaks easily: narrower notches or comb = "first round" leave more.' in told
    assert "Wire goes through the middle of the board 48 times, on a bobbin of at most 90 mm." in told
