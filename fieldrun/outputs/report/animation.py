"""The rotor turning over the winding while dots run along the waveform, as a short animation for people's own pages."""

import io
import math
from functools import lru_cache
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from fieldrun.design.arrays import Floats
from fieldrun.design.units import DEGREE, MM
from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import asked_speeds
from fieldrun.outputs.colours import FAINT, INK, NORTH_FILL, PAPER, PHASE_COLOURS, QUIET, SOUTH_FILL
from fieldrun.outputs.magnet_bodies import bodies_of
from fieldrun.outputs.report.chart import ticks
from fieldrun.outputs.report.plan import LETTERS, circle_at, magnet_corners, reach_of
from fieldrun.outputs.report.waveform import volts_of
from fieldrun.outputs.result_file import about
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.wire_lines import phase_pieces, plan_points

LYING_FILL, EDGE = "#E7E2D6", "#98A3A3"
"""Magnets that lie along the ring; outlines."""

FRAMES, FRAME_MS = 30, 100
"""One electrical period in so many pictures, which then begins anew: the machine looks the same."""

WIDTH, HEIGHT, OVER = 720, 380, 2
"""Size of the drawing [units], and pixels to a unit while it is drawn."""

SMALL = (640, 338)
"""Size of the file's pictures [px]: drawn larger and made smaller, so that edges are smooth."""

MAIN = (INK, QUIET, FAINT, NORTH_FILL, SOUTH_FILL, LYING_FILL, EDGE, *PHASE_COLOURS)
"""Colours of the palette that all frames share, besides paper; each comes in tones halfway to what lies under it."""

DISC = (190, 190, 168)
"""Middle of the machine and radius of its largest part with letters [units]."""

CHART = (450, 50, 245, 260)
"""Left, top, width and height of the waveform's frame [units]."""


def animation_bytes(result: RunResult) -> bytes:
    """A GIF that runs for ever; the facts stand in its comment."""
    ground, wire = _still(result), _wire(result)
    frames = [_frame(ground, wire, result, k / FRAMES).resize(SMALL, Image.Resampling.LANCZOS) for k in range(FRAMES)]
    palette = _palette()
    flat = [frame.quantize(palette=palette, dither=Image.Dither.NONE) for frame in frames]
    packed = io.BytesIO()
    comment = "; ".join(f"{key}: {value}" for key, value in about(result).items())
    look = {"duration": FRAME_MS, "loop": 0, "optimize": False, "comment": comment.encode()}
    flat[0].save(packed, "GIF", save_all=True, append_images=flat[1:], **look)
    return packed.getvalue()


def write_animation(result: RunResult, path: Path) -> None:
    """Write it to a file."""
    path.write_bytes(animation_bytes(result))


def _palette() -> Image.Image:
    """Every main colour, and its tones on paper and on magnets: where edges are smoothed nothing else turns up."""
    colours = [PAPER, *MAIN]
    tones = [_mixed(colour, PAPER, share) for colour in MAIN for share in (0.33, 0.67)]
    tones += [_mixed(PHASE_COLOURS[0], under, share) for under in (NORTH_FILL, SOUTH_FILL) for share in (0.33, 0.67)]
    holder = Image.new("P", (1, 1))
    holder.putpalette([part for colour in (*map(_parts, colours), *tones) for part in colour])
    return holder


def _parts(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _mixed(one: str, other: str, share: float) -> tuple[int, ...]:
    return tuple(round(share * a + (1 - share) * b) for a, b in zip(_parts(one), _parts(other), strict=True))


@lru_cache
def _letters(size: int, *, bold: bool = False) -> ImageFont.FreeTypeFont:
    import matplotlib as mpl

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(str(Path(mpl.get_data_path()) / "fonts" / "ttf" / name), size * OVER)


def _scale(result: RunResult) -> float:
    """Pixels of the large picture to a millimetre."""
    return OVER * DISC[2] / (reach_of(result)[1] * LETTERS)


def _on_disc(points: Floats, scale: float) -> list[tuple[float, float]]:
    moved = np.asarray(points) * scale + OVER * np.array(DISC[:2])
    return [(float(x), float(y)) for x, y in moved]


def _still(result: RunResult) -> Image.Image:
    """What never moves: the frame of the waveform, its curves, and the words."""
    image = Image.new("RGB", (OVER * WIDTH, OVER * HEIGHT), PAPER)
    pen = ImageDraw.Draw(image)
    speed = asked_speeds(result.design)[-1]
    volts = volts_of(result.emf, speed)
    top = _top(result)
    left, up, wide, tall = (OVER * size for size in CHART)
    for tick in ticks(-top, top, 5):
        y = up + tall * (top - tick) / (2 * top)
        pen.line([(left, y), (left + wide, y)], fill=FAINT, width=OVER)
        pen.text((left - 8 * OVER, y), plain(tick), fill=QUIET, font=_letters(11), anchor="rm")
    pen.text((left - 8 * OVER, up - 14 * OVER), "V", fill=QUIET, font=_letters(11), anchor="rm")
    pen.text((left, up - 32 * OVER), f"at {speed:g} rpm", fill=INK, font=_letters(13, bold=True), anchor="lm")
    period = 360 / result.emf.pole_pairs
    for k in range(4):
        words = plain(period * k / 3)
        pen.text((left + wide * k / 3, up + tall + 14 * OVER), words, fill=QUIET, font=_letters(11), anchor="mm")
    pen.text(
        (left + wide / 2, up + tall + 36 * OVER), "rotor angle, degrees", fill=QUIET, font=_letters(11), anchor="mm"
    )
    for wave, colour in zip(volts, PHASE_COLOURS, strict=False):
        pen.line(_curve(wave, top), fill=colour, width=3 * OVER, joint="curve")
    return image


def _top(result: RunResult) -> float:
    return 1.1 * float(np.max(np.abs(volts_of(result.emf, asked_speeds(result.design)[-1])))) or 1.0


def _curve(wave: Floats, top: float) -> list[tuple[float, float]]:
    closed = np.append(wave, wave[0])
    return [_on_chart(k / (len(closed) - 1), volt, top) for k, volt in enumerate(closed.tolist())]


def _on_chart(share: float, volt: float, top: float) -> tuple[float, float]:
    left, up, wide, tall = (OVER * size for size in CHART)
    return left + wide * share, up + tall * (top - volt) / (2 * top)


def _frame(ground: Image.Image, wire: Image.Image, result: RunResult, share: float) -> Image.Image:
    """One picture, a share of the electrical period after the first."""
    image = ground.copy()
    pen, scale, turn = ImageDraw.Draw(image), _scale(result), share * 2 * math.pi / result.emf.pole_pairs
    _draw_rotor(pen, result, turn, scale)
    image.paste(PHASE_COLOURS[0], (0, 0), wire)
    _draw_dots(pen, result, share)
    middle = (OVER * DISC[0], OVER * DISC[1])
    pen.text(middle, f"{turn / DEGREE:.1f}°", fill=INK, font=_letters(17, bold=True), anchor="mm")
    return image


def _draw_rotor(pen: ImageDraw.ImageDraw, result: RunResult, turn: float, scale: float) -> None:
    magnets = result.design.magnets
    outer = reach_of(result)[1] * LETTERS * 0.985
    for body in bodies_of(magnets):
        up = math.cos(body.turn_rad)
        fill = NORTH_FILL if up > 0.1 else SOUTH_FILL if up < -0.1 else LYING_FILL
        outline = _on_disc(magnet_corners(magnets, body.angle_rad + turn), scale)
        pen.polygon(outline, fill=fill, outline=EDGE, width=OVER)
        if abs(up) > 0.99 and magnets.count <= 40:
            place = _on_disc(np.array([circle_at(body.angle_rad + turn, outer)]), scale)[0]
            pen.text(place, "N" if up > 0 else "S", fill=INK, font=_letters(12, bold=True), anchor="mm")


def _wire(result: RunResult) -> Image.Image:
    """Where the first phase's wire lies, the same in every picture: a mask."""
    image, scale = Image.new("1", (OVER * WIDTH, OVER * HEIGHT)), _scale(result)
    pen = ImageDraw.Draw(image)
    places = plan_points(phase_pieces(result.paths, 0), np.linspace(0, 1, 9), 0.0) * np.array([1.0, -1.0])
    width = max(1, round(0.5 * result.design.wire.overall_diameter_m / MM * scale))
    for piece in {tuple(_on_disc(np.round(points, 2), scale)) for points in places}:
        pen.line(list(piece), fill=1, width=width)
    return image


def _draw_dots(pen: ImageDraw.ImageDraw, result: RunResult, share: float) -> None:
    emf = result.emf
    top, volts = _top(result), volts_of(emf, asked_speeds(result.design)[-1])
    at = share * volts.shape[1]
    for wave, colour in zip(volts, PHASE_COLOURS, strict=False):
        volt = float(np.interp(at, np.arange(len(wave) + 1), np.append(wave, wave[0])))
        x, y = _on_chart(share, volt, top)
        pen.ellipse(
            [x - 6 * OVER, y - 6 * OVER, x + 6 * OVER, y + 6 * OVER], fill=colour, outline=PAPER, width=2 * OVER
        )
