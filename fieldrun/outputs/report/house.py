"""The house's pictures inside a page: heavy parts as small images, letters as letters, ids that never meet.

A strict page refuses style attributes, so that every one becomes attributes of its own.
"""

import base64
import io
import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence

import matplotlib as mpl
import numpy as np
from markupsafe import Markup
from matplotlib.contour import ContourSet
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from PIL import Image

from fieldrun.outputs.colours import PAPER
from fieldrun.outputs.report import svg
from fieldrun.outputs.style import STYLE

DPI = 120
"""Of the parts that become images: on a page about 19 cm wide some 190 dots per inch."""

QUALITY, ALPHA_QUALITY = 75, 60
"""Of the images and of their edges, 0 to 100."""

GROUND, CONTRAST = (0xF4, 0xF3, 0xEE), 4.6
"""The darker of the grounds that the page gives pictures, and the least contrast of text on it."""

HEX = re.compile(r"^#[0-9a-fA-F]{6}$")

MANY = 30
"""A line through more points than this is drawn to a tenth of a unit, some 0.02 mm on paper."""

STRAIGHT, FLOAT = re.compile(r"^[ML\d\s.e+-]+$"), re.compile(r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?")
"""Path data without bends, and a number in it."""

SVG, XLINK = "{http://www.w3.org/2000/svg}", "{http://www.w3.org/1999/xlink}"

USED = re.compile(r"url\(#([^)]+)\)")

FONT = re.compile(r"^(?:(italic|oblique|normal)\s+)?(?:(bold|normal|\d+)\s+)?([\d.]+px)\s+(.*)$")
"""The shorthand that matplotlib writes: style, weight, size, families."""


def house_drawing(anchor: str, figure: Figure) -> Markup:
    """A figure as an SVG element.

    Parameters
    ----------
    anchor : begins every id in it
    figure : from one of the picture functions; its heavy artists are marked to be drawn as images from here on
    """
    return inlined(anchor, _as_svg(figure), str(figure.get_label()))


def inlined(anchor: str, document: str, says: str) -> Markup:
    """An SVG document of the house as an element of a page.

    Parameters
    ----------
    anchor : begins every id in it
    document : from our own writers
    says : what is seen, in words
    """
    root = ET.fromstring(document)  # noqa: S314 - our own text
    width, height = (float(size) for size in root.attrib["viewBox"].split()[2:])
    for part in root.iter():
        for rules in part.findall(f"{SVG}style"):  # the page's own sheet says the same
            part.remove(rules)
        _made_plain(anchor, part)
    inside = [_text_of(child) for child in root if child.tag in {f"{SVG}g", f"{SVG}defs"}]
    return svg.drawing(anchor, (0.0, 0.0, width, height), says, inside, class_="house")


def _as_svg(figure: Figure) -> str:
    for axes in figure.axes:
        for artist in (*axes.collections, *axes.patches):
            if not isinstance(artist, ContourSet):  # a few lines weigh less as lines, and matplotlib 3.10 wants them so
                artist.set_rasterized(True)
    for ground in (figure.patch, *(axes.patch for axes in figure.axes)):
        ground.set_visible(False)  # the page has one of its own
    for key in _dense(figure):  # a key's patch cannot become an image: it would lie elsewhere
        key.set_hatch((key.get_hatch() or " ")[0])
    written = io.StringIO()
    with mpl.rc_context(STYLE):
        figure.savefig(written, format="svg", dpi=DPI, metadata={"Date": None})
    return written.getvalue()


def _dense(figure: Figure) -> list[Patch]:
    """Patches that stay lines and have a dense hatching, whose dots would weigh more than all the rest."""
    patches = (artist for artist in figure.findobj(Patch) if isinstance(artist, Patch))
    return [patch for patch in patches if not patch.get_rasterized() and len(patch.get_hatch() or "") > 1]


def _made_plain(anchor: str, part: ET.Element) -> None:
    """Change one element in place: it belongs to nobody else."""
    style = part.attrib.pop("style", "")
    for rule in filter(None, (rule.strip() for rule in style.split(";"))):
        key, value = (word.strip() for word in rule.split(":", 1))
        part.attrib.update(_font(value) if key == "font" else {key: value})
    part.attrib.pop("gid", None)
    if part.tag == f"{SVG}text" and "fill" in part.attrib:
        part.set("fill", readable(part.attrib["fill"]))
    for key, value in list(part.attrib.items()):
        part.set(key, USED.sub(rf"url(#{anchor}-\1)", value))
    if "d" in part.attrib:
        part.set("d", shorter(part.attrib["d"]))
    if "id" in part.attrib:
        part.set("id", f"{anchor}-{part.attrib['id']}")
    link = part.attrib.pop(f"{XLINK}href", None)
    if link is not None:
        part.set("href", f"#{anchor}-{link[1:]}" if link.startswith("#") else _smaller(link))


def shorter(steps: str) -> str:
    """Path data as steps from point to point, to a tenth of a unit where it is long; bends are rounded only."""
    if not STRAIGHT.match(steps):
        return FLOAT.sub(lambda found: svg.number(float(found.group())), " ".join(steps.split()))
    rows = [np.array(FLOAT.findall(row), float).reshape(-1, 2) for row in steps.split("M")[1:]]
    decimals = 1 if max(map(len, rows)) > MANY else 2
    return "".join(svg.through(row, decimals=decimals) for row in rows)


def readable(colour: str) -> str:
    """A colour for text, dark enough for the ground it stands on (contrast as WCAG 2.1 defines it).

    White text stands on something dark of its own and stays.
    """
    if colour.lower() == PAPER.lower():
        return colour
    parts = [int(colour[at : at + 2], 16) for at in (1, 3, 5)] if HEX.match(colour) else []
    while parts and (_luminance(GROUND) + 0.05) / (_luminance(parts) + 0.05) < CONTRAST:
        parts = [int(0.94 * part) for part in parts]
    return "#" + "".join(f"{part:02x}" for part in parts) if parts else colour


def _luminance(parts: Sequence[int]) -> float:
    linear = [v / 12.92 if v <= 0.03928 else ((v + 0.055) / 1.055) ** 2.4 for v in (part / 255 for part in parts)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _font(shorthand: str) -> dict[str, str]:
    found = FONT.match(shorthand)
    if not found:
        return {}
    slant, weight, size, _ = found.groups()
    told = {"font-style": slant, "font-weight": weight, "font-size": size}
    return {key: value for key, value in told.items() if value}


def _smaller(link: str) -> str:
    """An image of the page's own format instead of a PNG."""
    picture = Image.open(io.BytesIO(base64.b64decode(link.split(",", 1)[1])))
    packed = io.BytesIO()
    picture.save(packed, "WEBP", quality=QUALITY, alpha_quality=ALPHA_QUALITY, method=2)
    return "data:image/webp;base64," + base64.b64encode(packed.getvalue()).decode()


def _text_of(part: ET.Element) -> Markup:
    text = ET.tostring(part, encoding="unicode").replace(' xmlns:ns0="http://www.w3.org/2000/svg"', "")
    return Markup(re.sub(r"(</?)ns0:", r"\1", text))  # noqa: S704 - serialised above
