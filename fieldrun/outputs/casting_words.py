"""The casting page: sizes and amounts, and what to check before and after."""

from fieldrun.design.units import MM
from fieldrun.generator.result import RunResult
from fieldrun.outputs.casting import Casting
from fieldrun.outputs.sentences import plain, weight
from fieldrun.winding.former import Former

ML = 1e-6
"""Cubic metres in a millilitre."""


def casting_rows(casting: Casting) -> list[tuple[str, str]]:
    """Sizes and amounts, name and value."""
    rows = [
        ("disc that keeps the middle free, across", plain(casting.hub_disc_m / MM, "mm")),
        ("ring, across", plain(casting.across_m / MM, "mm")),
        ("spacers between the mould's plates", f"{casting.spacer_m / MM:.2f} mm"),
        ("the winding itself", f"{casting.winding_m / MM:.2f} mm"),
        ("resin that fills the ring", f"{plain(casting.resin_m3 / ML, 'ml')}, {weight(casting.resin_kg)}"),
        ("resin to mix, with what is lost", weight(casting.mix_kg)),
    ]
    if casting.air_m is not None:
        rows.append(("air to the magnets, on each side", f"{casting.air_m / MM:.2f} mm"))
    inside, outside = casting.beyond_m
    return [*rows, ("inner ends of the wire", _beyond(inside)), ("outer ends of the wire", _beyond(outside))]


def _beyond(length_m: float) -> str:
    """Where ends of the wire lie: past the magnets, with room for a bundle, or over them."""
    where = "beyond the magnets" if length_m >= 0 else "over the magnets"
    return f"{plain(abs(length_m) / MM, 'mm')} {where}"


def before_casting(result: RunResult, casting: Casting, former: Former) -> list[str]:
    """What to check before the resin is mixed."""
    winding, told = result.design.winding, []
    told.append("Every phase: ohms as on the meter sheet, the same in all within a few hundredths; write them down.")
    if winding.phases > 1:
        told.append("No phase leads to another one while their ends are still free, and none to the mould.")
    told.append(f"The winding pressed flat is at most {casting.spacer_m / MM:.2f} mm thick everywhere.")
    if casting.ends_m is not None:
        told.append(
            f"Bundles of end arcs stand up to {casting.ends_m / MM:.1f} mm high where they lie on each other: beyond "
            "the magnets they may; the mould needs a groove there."
        )
    if winding.resin_m == 0:
        told.append(
            "winding.resin_mm is 0: the mould closes on the wires; a layer of glass cloth needs room of its own."
        )
    told += [_board(former)] if not former.stays else []
    told.append("Mould waxed, leads led out upward, joints insulated, a trial turn of the empty mould in the gap.")
    return told


def _board(former: Former) -> str:
    tied = "tie the legs with thread before pins or teeth are drawn from between them"
    if former.keeps_disc:
        return f"The board is out, or sawn off where magnets pass: its middle may carry the winding; {tied}."
    return f"The board is out: {tied}."


def after_casting(result: RunResult, casting: Casting) -> list[str]:
    """What to check when the resin is hard."""
    told = ["Every phase: the same ohms as before, and still none between phases."]
    told.append(f"Thickness: {casting.spacer_m / MM:.2f} mm at eight places round the ring, filed where it is more.")
    if casting.air_m is not None:
        told.append(f"It turns a whole turn in the gap without a sound, {casting.air_m / MM:.2f} mm from either side.")
    told.append("Turned by a drill: the volts of the meter sheet, the same in all phases.")
    if result.design.rotor.spins == "coil":
        told.append("A winding that spins: balanced on two edges, and its middle bolted to the shaft, not glued alone.")
    return told


RESIN_NOTE = (
    "Resin counts as 1.15 kg per litre, as data sheets of epoxy without filler say (from memory); enamel counts as "
    "resin. Mix what the table says in one go only if its pot life allows."
)

CUTTING = (
    "Cutting: a sharp blade slips towards the hand that holds the board; clamp it. Never leave a laser alone; some "
    "boards give off poison (PVC, some glues)."
)

RESIN = (
    "Resin: gloves, glasses, moving air; hardeners burn skin and make allergic for life. A large cup of mixed resin "
    "heats itself: pour it out flat."
)

TENSION = "Wire under tension cuts: guide it with a glove or a felt, not round a finger."

CAUTIONS = (CUTTING, RESIN, TENSION)
