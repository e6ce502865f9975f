"""Which files each command leaves in a design's folder, and which of them say of which design it is."""

RESULT_FILE = "result.json"

REPORT_PAGE = "report.html"

OUR_FILES = frozenset(
    {RESULT_FILE, "paths.csv", "field.vtu", "summary.txt", REPORT_PAGE}
    | {f"{stem}.{end}" for stem in ("gap", "section", "winding", "waveform") for end in ("svg", "png")}
)
"""Every file that `run` always writes."""

WIND_FILES = frozenset({"power.svg", "power.png"})
"""What it adds for a rotor with a load."""

LOAD_FILES = frozenset({"load.svg", "load.png"})
"""What it adds for a load that gets power at the asked speeds."""

VERIFY_FILE = "verify.json"

VERIFY_FILES = frozenset({VERIFY_FILE, "verify.svg", "verify.png"})
"""Every file that `verify` writes, into the same folder: beside a run's, until the design is edited and run again."""

COMPARE_FILE = "compare.json"

COMPARE_FILES = frozenset({COMPARE_FILE, "compare.csv", "compare.svg", "compare.png"})
"""Every file that `compare` writes: likewise."""

ESTIMATES_FILE = "estimates.json"

ESTIMATES_FILES = frozenset({ESTIMATES_FILE, "estimates.csv", "estimates.svg", "estimates.png"})
"""Every file that `estimates` writes: likewise."""

MEASURED_FILE = "measured.json"

MEASURED_FILES = frozenset({MEASURED_FILE, "measured.svg", "measured.png", "scan.svg", "scan.png"})
"""Every file that `measured` writes: likewise."""

FIELD_FILE = "field.json"

FIELD_FILES = frozenset(
    {FIELD_FILE, "field-grid.csv", "field-grid.npz", "field-difference.csv"}
    | {f"field-{kind}.vtu" for kind in ("section", "rings", "rings-swept", "solid")}
    | {
        f"field-{stem}.{end}"
        for stem in ("section", "section-other", "radial", "gap", "cuts", "harmonics", "difference")
        for end in ("svg", "png", "pdf")
    }
)
"""Every file that `field` writes: likewise."""

FORMER_FILE = "former.json"

FORMER_FILES = frozenset({FORMER_FILE, "winding-steps.csv", "wire-list.csv"}) | {
    *(f"former.{end}" for end in ("pdf", "svg", "step", "stl")),
    *("former_mm.dxf", "magnets_mm.dxf", "magnets.svg", "overlay.svg"),
}
"""Every file that `former` writes: likewise."""

REPORT_FILE = "report.json"

REPORT_FILES = frozenset({REPORT_FILE, REPORT_PAGE, "report.md", "turning.gif"}) | {
    f"{stem}.csv" for stem in ("numbers", "waveform", "harmonics", "points", "power-curve", "windings")
}
"""Every file that `report` writes: likewise; its page takes the place of the shorter one that `run` wrote."""

SWEEP_FILE, SWEEP_TABLE, JOURNAL = "sweep.json", "results.csv", "sweep.jsonl"

SWEEP_BEST = "best.csv"

SWEEP_DRAWN = frozenset({"sweep.svg", "sweep.png", "pareto.svg", "pareto.png"})

SWEEP_FILES = SWEEP_DRAWN | {name + end for name in (SWEEP_FILE, SWEEP_TABLE, SWEEP_BEST) for end in ("", ".part")}
"""Every file that `sweep` writes when it is done, or was writing when it was ended: likewise."""

RECORDS = (
    RESULT_FILE,
    VERIFY_FILE,
    COMPARE_FILE,
    ESTIMATES_FILE,
    MEASURED_FILE,
    FIELD_FILE,
    FORMER_FILE,
    REPORT_FILE,
    SWEEP_FILE,
    JOURNAL,
)
"""Files that say of which design a folder is."""

EVERY_FILE = (
    OUR_FILES
    | WIND_FILES
    | LOAD_FILES
    | VERIFY_FILES
    | COMPARE_FILES
    | ESTIMATES_FILES
    | MEASURED_FILES
    | FIELD_FILES
    | FORMER_FILES
    | REPORT_FILES
    | SWEEP_FILES
    | {JOURNAL}
)
"""A folder with any other file in it is not ours to replace."""

BESIDE = {
    VERIFY_FILE: VERIFY_FILES,
    COMPARE_FILE: COMPARE_FILES,
    ESTIMATES_FILE: ESTIMATES_FILES,
    MEASURED_FILE: MEASURED_FILES,
    FIELD_FILE: FIELD_FILES,
    FORMER_FILE: FORMER_FILES,
    REPORT_FILE: REPORT_FILES,
}
"""What stands beside a run's files, by the record that says of which state of the design it is."""

REPLACED = EVERY_FILE - {JOURNAL}
"""What goes when a new result comes; a sweep's journal may be a night's work and goes only when its sweep is forced."""
