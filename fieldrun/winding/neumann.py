"""Neumann's double integral between straight filaments, in closed form: what inductance is when mu0 / 4 pi is left out.

The integral of dl . dl' / R over two straight filaments is cos(phi) times a combination of four logarithms and four
arcs, whatever their position (skew filaments: F. W. Grover, Inductance Calculations (1946), ch. 7; from memory, the
form below derived anew); for parallel filaments it is a second difference of one function.
"""

import numpy as np

from fieldrun.design.arrays import Floats

Vector = Floats | tuple[Floats, Floats, Floats]

PARALLEL = 1e-4
"""Filaments whose directions differ by less than this angle [rad] are taken as parallel: a hundredth of a wire's
diameter over some two hundred diameters, and the general form divides by this angle's square."""

SQUARE = 1e-12
"""Cosine below which filaments stand square to each other and do not couple."""

NEAR = 1e-9
"""Share of a filament's length below which a distance is no distance: keeps logarithms finite where filaments meet."""


def neumann(a: Floats, b: Floats, apart_m: float = 0.0) -> Floats:
    """Integral of dl . dl' / R over pairs of straight filaments.

    Parameters
    ----------
    a, b : (2, 3, k) ends of k filaments and of their partners: start and end, x y z [m], none without length
    apart_m : filaments that are parallel and lie alongside each other are never taken closer than this [m]: axes of
        wires drawn on top of each other lie side by side in truth

    Returns
    -------
    (k,) [m]; mu0 / 4 pi times it is the mutual inductance of the pair
    """
    u, length_a = _direction(a)
    v, length_b = _direction(b)
    cosine = _dot(u, v)
    parallel = 1 - cosine**2 < PARALLEL**2
    across = ~parallel & (np.abs(cosine) > SQUARE)
    out = np.zeros(cosine.shape)
    if np.any(parallel):
        out[parallel] = _parallel(a[..., parallel], b[..., parallel], apart_m)
    if np.any(across):
        kept = slice(None) if np.all(across) else across
        lengths = length_a[kept], length_b[kept]
        out[kept] = cosine[kept] * _skew(a[..., kept], b[..., kept], (u[:, kept], v[:, kept]), lengths)
    return out


def _dot(a: Vector, b: Vector) -> Floats:
    return np.asarray(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


def _length(a: Vector) -> Floats:
    return np.asarray(np.sqrt(_dot(a, a)))


def _direction(ends: Floats) -> tuple[Floats, Floats]:
    along = ends[1] - ends[0]
    length = _length(along)
    return along / length, length


def _skew(a: Floats, b: Floats, directions: tuple[Floats, Floats], lengths: tuple[Floats, Floats]) -> Floats:
    """Integral of ds dt / R, lengths counted from the feet of the common perpendicular of the two lines.

    The antiderivative is s artanh + t artanh - (h / sin) arctan, h the distance of the lines; R of the four pairs of
    ends is taken from the ends themselves, so that nothing cancels.
    """
    (u, v), (length_a, length_b) = directions, lengths
    gap = b[0] - a[0]
    cosine, on_u, on_v = _dot(u, v), _dot(gap, u), _dot(gap, v)
    sine2 = 1 - cosine**2
    s = (cosine * on_v - on_u) / sine2
    t = (on_v - cosine * on_u) / sine2
    sine = np.sqrt(sine2)
    height = np.abs(_dot(gap, _cross(u, v))) / sine
    ends_s, ends_t = (s, s + length_a), (t, t + length_b)
    far = [[_length(b[j] - a[i]) for j in (0, 1)] for i in (0, 1)]
    along = ends_s[1] * _seen(far[1][0], far[1][1], length_b) - ends_s[0] * _seen(far[0][0], far[0][1], length_b)
    along += ends_t[1] * _seen(far[0][1], far[1][1], length_a) - ends_t[0] * _seen(far[0][0], far[1][0], length_a)
    if not np.any(height):
        return np.asarray(along)
    tilted, levelled = height**2 * cosine, height * sine
    arc = [[np.arctan2(tilted + ends_s[i] * ends_t[j] * sine2, levelled * far[i][j]) for j in (0, 1)] for i in (0, 1)]
    return np.asarray(along - height / sine * (arc[1][1] - arc[1][0] - arc[0][1] + arc[0][0]))


def _cross(u: Floats, v: Floats) -> tuple[Floats, Floats, Floats]:
    return u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]


def _seen(near: Floats, far: Floats, length: Floats) -> Floats:
    """Integral of 1/R along a filament, seen from a point `near` from one end and `far` from the other."""
    both = near + far
    return np.asarray(np.log((both + length) / np.maximum(both - length, NEAR**2 * length)))


def _parallel(a: Floats, b: Floats, apart_m: float) -> Floats:
    u, length = _direction(a)
    low, high = _dot(b[0] - a[0], u), _dot(b[1] - a[0], u)
    middle = (b[0] + b[1]) / 2 - a[0]
    across = np.sqrt(np.maximum(_dot(middle, middle) - _dot(middle, u) ** 2, 0.0))
    overlap = np.minimum(np.maximum(low, high), length) - np.maximum(np.minimum(low, high), 0)
    across = np.where(overlap > NEAR * length, np.maximum(across, apart_m), across)
    across = np.maximum(across, NEAR * np.maximum(length, np.abs(high - low)))
    near_end = _twice(high, across) - _twice(low, across)
    return np.asarray(near_end - _twice(high - length, across) + _twice(low - length, across))


def _twice(x: Floats, across: Floats) -> Floats:
    """A function whose second derivative is 1 / sqrt(x^2 + across^2)."""
    return np.asarray(x * np.arcsinh(x / across) - np.hypot(x, across))


def own(length_m: Floats, radius_m: float) -> Floats:
    """The same integral of straight round wires (k,) [m] with themselves, current spread over the section, (k,) [m].

    2 l (ln(2 l / a) - 3/4): external part l (2 ln(2 l / a) - 2) and internal part l / 2 (Grover, ch. 5; from memory).
    Terms of order a are left out on purpose: so a wire cut in two, with the mutual integral of its parts added twice,
    is exactly the wire in one piece.
    """
    return np.asarray(2 * length_m * (np.log(2 * length_m / radius_m) - 0.75))
