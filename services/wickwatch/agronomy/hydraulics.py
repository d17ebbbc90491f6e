"""Head lost by water in one pipe, and the laws it follows.

Here: laminar and turbulent loss of a straight pipe, and pipes as power laws for whole lines. Not here: lines
with outlets (`lateral`), networks (`network`), tanks that run out (`outflow`). Supply lines of
tension-actuated emitters carry litres an hour: their flow is laminar, and formulas fitted to mains are wrong
there by a factor.

Flow is l/h, bore mm, length m, head mm of water at the water's own density; arrays broadcast, NaN passes
through.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy import water
from wickwatch.agronomy.arrays import Floats, floats, not_negative, positive

M3_PER_S_PER_L_PER_H = 1e-3 / 3600.0
# Laminar below, turbulent above, and by straight line between: the range in which a pipe may be either.
LAMINAR_BELOW = 2000.0
TURBULENT_ABOVE = 4000.0


def velocity_m_per_s(flow_l_per_h: ArrayLike, bore_mm: ArrayLike) -> Floats:
    """Return the mean velocity [m/s] in a full round pipe."""
    bore_m = positive("bore in mm", bore_mm) / 1000.0
    return floats(flow_l_per_h) * M3_PER_S_PER_L_PER_H / (np.pi / 4.0 * bore_m**2)


def reynolds(flow_l_per_h: ArrayLike, bore_mm: ArrayLike, temperature_degc: ArrayLike = 20.0) -> Floats:
    """Return the Reynolds number of water in a full round pipe."""
    speed = np.abs(velocity_m_per_s(flow_l_per_h, bore_mm))
    return speed * floats(bore_mm) / 1000.0 / water.kinematic_viscosity_m2_per_s(temperature_degc)


def hagen_poiseuille_pa(
    flow_l_per_h: ArrayLike, bore_mm: ArrayLike, length_m: ArrayLike, viscosity_pa_s: ArrayLike
) -> Floats:
    """Return the pressure [Pa] lost in laminar flow: 128 mu L Q / (pi D^4)."""
    flow = floats(flow_l_per_h) * M3_PER_S_PER_L_PER_H
    bore_m = positive("bore in mm", bore_mm) / 1000.0
    length = not_negative("length in m", length_m)
    return 128.0 * floats(viscosity_pa_s) * length * flow / (np.pi * bore_m**4)


def swamee_jain(reynolds_number: ArrayLike, relative_roughness: ArrayLike = 0.0) -> Floats:
    """Return the turbulent Darcy friction factor, explicit (Swamee and Jain 1976)."""
    inside = floats(relative_roughness) / 3.7 + 5.74 / floats(reynolds_number) ** 0.9
    return floats(0.25 / np.log10(inside) ** 2)


def haaland(reynolds_number: ArrayLike, relative_roughness: ArrayLike = 0.0) -> Floats:
    """Return the turbulent Darcy friction factor, explicit (Haaland 1983)."""
    inside = (floats(relative_roughness) / 3.7) ** 1.11 + 6.9 / floats(reynolds_number)
    return floats((1.8 * np.log10(inside)) ** -2)


def colebrook(reynolds_number: ArrayLike, relative_roughness: ArrayLike = 0.0) -> Floats:
    """Return the turbulent Darcy friction factor of Colebrook 1939.

    Solved for x = 1/sqrt(f) by Newton's method from Haaland's factor, which is within 2 %: three steps
    suffice.
    """
    rough = floats(relative_roughness) / 3.7
    smooth = 2.51 / floats(reynolds_number)
    x = 1.0 / np.sqrt(haaland(reynolds_number, relative_roughness))
    for _ in range(3):
        inside = rough + smooth * x
        x = x - (x + 2.0 * np.log10(inside)) / (1.0 + 2.0 / np.log(10.0) * smooth / inside)
    return floats(x**-2)


def blasius(reynolds_number: ArrayLike) -> Floats:
    """Return the turbulent Darcy friction factor of a smooth pipe (Blasius 1913), for Reynolds up to 1e5."""
    return floats(0.3164 * floats(reynolds_number) ** -0.25)


def darcy_friction(reynolds_number: ArrayLike, relative_roughness: ArrayLike = 0.0) -> Floats:
    """Return the Darcy friction factor at any Reynolds number.

    64/Re below 2000, Colebrook above 4000, a straight line between them. Infinite at rest.
    """
    number = not_negative("Reynolds number", reynolds_number)
    roughness = not_negative("relative roughness", relative_roughness)
    with np.errstate(divide="ignore"):
        laminar = 64.0 / number
    turbulent = colebrook(np.maximum(number, TURBULENT_ABOVE), roughness)
    share = (number - LAMINAR_BELOW) / (TURBULENT_ABOVE - LAMINAR_BELOW)
    between = 64.0 / LAMINAR_BELOW * (1.0 - share) + turbulent * share
    moving = np.where(number < TURBULENT_ABOVE, between, turbulent)
    return np.where(number <= LAMINAR_BELOW, laminar, moving)


def darcy_loss_mm(
    flow_l_per_h: ArrayLike,
    bore_mm: ArrayLike,
    length_m: ArrayLike,
    temperature_degc: ArrayLike = 20.0,
    roughness_mm: ArrayLike = 0.0,
) -> Floats:
    """Return the head [mm of water] lost in a pipe at any flow (Darcy-Weisbach), with the flow's sign."""
    number = reynolds(flow_l_per_h, bore_mm, temperature_degc)
    bore = floats(bore_mm)
    # At rest the friction factor is infinite and the loss is not.
    friction = darcy_friction(np.where(number > 0.0, number, 1.0), floats(roughness_mm) / bore)
    speed = velocity_m_per_s(flow_l_per_h, bore_mm)
    length = not_negative("length in m", length_m)
    head_m = friction * length / (bore / 1000.0) * speed * np.abs(speed) / (2.0 * water.GRAVITY_M_PER_S2)
    return np.where(np.isnan(number), np.nan, head_m * 1000.0)


@dataclass(frozen=True)
class PowerLaw:
    """A pipe as head [mm] = resistance * |flow [l/h]|^exponent, with the sign of the flow.

    `resistance` may be an array, one pipe each.
    """

    resistance: Floats
    exponent: float

    def loss_mm(self, flow_l_per_h: ArrayLike) -> Floats:
        """Return the head [mm] lost at a flow [l/h] of either sign."""
        flow = floats(flow_l_per_h)
        return self.resistance * np.sign(flow) * np.abs(flow) ** self.exponent


def laminar_pipe(bore_mm: ArrayLike, length_m: ArrayLike, temperature_degc: ArrayLike = 20.0) -> PowerLaw:
    """Return pipes in laminar flow (Hagen-Poiseuille): exact for drip tubes, exponent 1."""
    loss_pa = hagen_poiseuille_pa(1.0, bore_mm, length_m, water.viscosity_pa_s(temperature_degc))
    weight = water.density_kg_per_m3(temperature_degc) * water.GRAVITY_M_PER_S2
    return PowerLaw(loss_pa / weight * 1000.0, 1.0)


def hazen_williams_pipe(bore_mm: ArrayLike, length_m: ArrayLike, coefficient: ArrayLike = 150.0) -> PowerLaw:
    """Return pipes by Hazen and Williams: head = 10.67 L Q^1.852 / (C^1.852 D^4.8704) in SI.

    A fit to turbulent mains. In laminar flow it is wrong by a factor (a sixth of the true loss in a 3.2 mm
    tube at 2 l/h): never use it for drip tubes; see `reynolds`.
    """
    bore_m = positive("bore in mm", bore_mm) / 1000.0
    length = not_negative("length in m", length_m)
    per_flow = (M3_PER_S_PER_L_PER_H / positive("Hazen-Williams coefficient", coefficient)) ** 1.852
    return PowerLaw(10.67 * length * per_flow / bore_m**4.8704 * 1000.0, 1.852)
