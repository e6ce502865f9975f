"""When a battery starts to charge: the speed at which the highest instantaneous voltage reaches it."""

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Connection, Load
from fieldrun.generator.emf import Emf


def rectified_peak(emf: Emf, connection: Connection, rectifier: str) -> float:
    """Highest instantaneous voltage that the rectifier sees, per speed [V s/rad].

    Star into one bridge: the largest difference between two phases at any rotor angle. Delta: the largest voltage of
    one phase less the mean of all, which drives a current round the loop and is used up there. Everything else (one
    phase, separate phases, a bridge per phase, a doubler): the largest voltage of one phase.
    """
    return highest_rectified(emf.waveform, connection, rectifier)


def highest_rectified(waves: Floats, connection: Connection, rectifier: str) -> float:
    """The same of the phases' waves over a period, (phases, t), in their unit."""
    if connection == "star" and rectifier == "bridge" and len(waves) > 1:
        return float(np.max(_differences(waves)))
    if connection == "delta":
        waves = waves - waves.mean(axis=0)
    return float(np.max(np.abs(waves)))


def _differences(waves: Floats) -> Floats:
    return np.abs(waves[:, None, :] - waves[None, :, :])


def charging_starts_rad_s(emf: Emf, connection: Connection, load: Load) -> float | None:
    """Speed from which current flows into a load that holds a voltage [rad/s]; None without it, a rectifier or any EMF.

    A bridge puts two diodes in the current's way; a doubler one, and charges the battery's two halves in turn. No
    current flows below that speed, so that resistance and inductance play no part.
    """
    if load.voltage_v is None or load.rectifier == "none":
        return None
    peak = rectified_peak(emf, connection, load.rectifier)
    if peak <= 0:
        return None
    needed = load.voltage_v + 2 * load.diode_drop_v
    return (needed / 2 if load.rectifier == "doubler" else needed) / peak
