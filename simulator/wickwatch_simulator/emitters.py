"""Tension-actuated drip emitters: they open in proportion above their set point, with play, and flow with head.

The membrane moves only after tension has changed by its play, so an emitter opens drier than it closes; with the
cup's lag that makes the re-wetting pulses seen in practice. Not here: head losses on the way (`lines`).
"""

from __future__ import annotations

import numpy as np

from wickwatch.agronomy.arrays import Floats

#: Head at which an emitter's full flow is stated.
REFERENCE_HEAD_MM = 1000.0


def membrane(position_mbar: Floats, cup_mbar: Floats, half_play_mbar: Floats) -> Floats:
    """Membrane position [mbar] after the cup's tension moved: follows it at half its play from either side."""
    return np.maximum(cup_mbar - half_play_mbar, np.minimum(cup_mbar + half_play_mbar, position_mbar))


def opening(membrane_mbar: Floats, set_point_mbar: Floats, per_mbar: Floats) -> Floats:
    """Opening, 0 to 1: proportional above the set point over the emitter's band (`per_mbar` = 1 / band)."""
    return np.minimum(np.maximum((membrane_mbar - set_point_mbar) * per_mbar, 0.0), 1.0)


def flow(opening_share: Floats, l_per_h_per_mm: Floats, head_mm: Floats) -> Floats:
    """Flow [l/h] of emitters at a head [mm]; laminar, as in a drip tube, so proportional to head."""
    return opening_share * l_per_h_per_mm * np.maximum(head_mm, 0.0)
