"""Retention, conductivity and container figures against published parameters and against pedon."""

from __future__ import annotations

import numpy as np
import pedon
import pytest
from scipy.integrate import quad

from wickwatch.agronomy import container, retention
from wickwatch.agronomy.media import MEDIA
from wickwatch.agronomy.units import mbar_from_cm_water

# published parameters (Carsel and Parrish 1988; Staring series 2018); water contents at 10, 50, 100, 330,
# 1000 and 15000 cm derived from them with pedon 0.1.0, tolerance 1e-4.
THETA = {
    "sand": (0.2143, 0.0588, 0.0493, 0.0456, 0.0451, 0.0450),
    "loamy-sand": (0.2620, 0.0909, 0.0710, 0.0601, 0.0577, 0.0570),
    "sandy-loam": (0.3431, 0.1675, 0.1218, 0.0848, 0.0724, 0.0657),
    "loam": (0.4074, 0.3025, 0.2421, 0.1654, 0.1253, 0.0884),
    "silt": (0.4511, 0.4010, 0.3534, 0.2582, 0.1858, 0.0901),
    "silt-loam": (0.4392, 0.3801, 0.3297, 0.2402, 0.1787, 0.1039),
    "sandy-clay-loam": (0.3566, 0.2626, 0.2209, 0.1695, 0.1409, 0.1112),
    "clay-loam": (0.4021, 0.3644, 0.3322, 0.2697, 0.2208, 0.1496),
    "silty-clay-loam": (0.4264, 0.4081, 0.3885, 0.3383, 0.2877, 0.1967),
    "sandy-clay": (0.3706, 0.3369, 0.3123, 0.2672, 0.2308, 0.1704),
    "silty-clay": (0.3591, 0.3553, 0.3509, 0.3370, 0.3176, 0.2665),
    "clay": (0.3784, 0.3720, 0.3654, 0.3469, 0.3246, 0.2707),
    "oligotrophic-peat": (0.8794, 0.8173, 0.7440),
    "eutrophic-peat": (0.8375, 0.7778, 0.7163),
    "sandy-peat": (0.7646, 0.6718, 0.5963),
}
HEADS_CM = np.array([10.0, 50.0, 100.0, 330.0, 1000.0, 15000.0])


@pytest.mark.parametrize("name", THETA)
def test_water_content_by_tension_is_the_published_curve(name: str) -> None:
    expected = THETA[name]
    found = retention.theta(MEDIA[name], mbar_from_cm_water(HEADS_CM[: len(expected)]))
    assert found == pytest.approx(expected, abs=1e-4)


# derived with pedon 0.1.0: Mualem conductivity at 100 cm, cm/d
@pytest.mark.parametrize(
    ("name", "expected"),
    [("sand", 1.763e-5), ("sandy-loam", 4.552e-3), ("loam", 3.392e-2), ("clay", 2.019e-2)],
)
def test_conductivity_at_100_cm_is_the_published_model(name: str, expected: float) -> None:
    assert retention.conductivity_cm_per_d(MEDIA[name], mbar_from_cm_water(100.0)) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("name", MEDIA)
def test_curve_and_conductivity_agree_with_pedon(name: str) -> None:
    medium = MEDIA[name]
    other = pedon.Genuchten(
        k_s=medium.ks_cm_per_d,
        theta_r=medium.theta_r,
        theta_s=medium.theta_s,
        alpha=medium.alpha_per_cm,
        n=medium.n,
        l=medium.connectivity,
    )
    head_cm = np.geomspace(0.1, 1000.0, 60)
    tension = mbar_from_cm_water(head_cm)
    assert retention.theta(medium, tension) == pytest.approx(other.theta(head_cm), rel=1e-9)
    assert retention.conductivity_cm_per_d(medium, tension) == pytest.approx(other.k(head_cm), rel=1e-4)


# derived from the published curves: air and water at the tensions of de Boodt and Verdonck 1972
@pytest.mark.parametrize(
    ("name", "easily_available", "buffering"),
    [
        ("oligotrophic-peat", 0.0621, 0.0733),
        ("sandy-peat", 0.0928, 0.0754),
        ("sand", 0.1556, 0.0095),
        ("loam", 0.1049, 0.0603),
    ],
)
def test_available_and_buffering_water(name: str, easily_available: float, buffering: float) -> None:
    assert container.easily_available_water(MEDIA[name]) == pytest.approx(easily_available, abs=1e-4)
    assert container.water_buffering_capacity(MEDIA[name]) == pytest.approx(buffering, abs=1e-4)


# derived: mean of the pedon curve over the pot's height (model of Milks, Fonteno and Larson 1989), at 10, 15,
# 20, 30 cm
@pytest.mark.parametrize(
    ("name", "capacity", "air"),
    [
        ("sand", (0.3429, 0.2865, 0.2455, 0.1935), (0.0871, 0.1435, 0.1845, 0.2365)),
        ("loam", (0.4207, 0.4136, 0.4061, 0.3909), (0.0093, 0.0164, 0.0239, 0.0391)),
        ("oligotrophic-peat", (0.8849, 0.8820, 0.8787, 0.8717), (0.0041, 0.0070, 0.0103, 0.0173)),
    ],
)
def test_a_taller_pot_of_the_same_mix_holds_less_water_and_more_air(
    name: str, capacity: tuple[float, ...], air: tuple[float, ...]
) -> None:
    heights_mm = np.array([100.0, 150.0, 200.0, 300.0])
    assert container.container_capacity(MEDIA[name], heights_mm) == pytest.approx(capacity, abs=1e-4)
    assert container.air_filled_porosity(MEDIA[name], heights_mm) == pytest.approx(air, abs=1e-4)


def test_a_tapered_pot_weighs_each_height_by_its_area() -> None:
    medium = MEDIA["peat-perlite"]

    def area(z: float) -> float:
        return float((1.0 + 0.4 * z / 20.0) ** 2)

    water, _ = quad(lambda z: area(z) * float(retention.theta(medium, mbar_from_cm_water(z))), 0.0, 20.0)
    whole, _ = quad(area, 0.0, 20.0)
    assert container.container_capacity(medium, 200.0, 1.4) == pytest.approx(water / whole, rel=1e-7)


@pytest.mark.parametrize("name", ["peat-perlite", "coir"])
def test_derived_potting_media_lie_in_the_ideal_bands(name: str) -> None:
    # published bands, from memory (de Boodt and Verdonck 1972): porosity above 85, air 20-30, easily
    # available water 20-30, buffering 4-10 % by volume
    medium = MEDIA[name]
    assert medium.theta_s > 0.85
    assert 0.20 <= container.air_capacity(medium) <= 0.30
    assert 0.20 <= container.easily_available_water(medium) <= 0.30
    assert 0.04 <= container.water_buffering_capacity(medium) <= 0.10


def test_derived_sand_peat_lies_in_the_nursery_bands() -> None:
    # published bands, from memory (Southern Nursery Association): porosity 50-85, air 10-30, capacity 45-65 %
    medium = MEDIA["sand-peat"]
    assert 0.50 <= medium.theta_s <= 0.85
    assert 0.10 <= container.air_filled_porosity(medium, 200.0) <= 0.30
    assert 0.45 <= container.container_capacity(medium, 200.0) <= 0.65


def test_derived_bark_passes_through_its_published_points() -> None:
    # published: O'Meara, Chappell and van Iersel 2014, abstract; theta 0.38 and 0.17, K 0.115 and 6.9e-5 cm/d
    # at 4.0 and 69 kPa. The second conductivity took no part in the fit, so only its order is asked for.
    theta = retention.theta(MEDIA["bark"], [40.0, 690.0])
    conductivity = retention.conductivity_cm_per_d(MEDIA["bark"], [40.0, 690.0])
    assert theta == pytest.approx([0.38, 0.17], abs=0.002)
    assert conductivity[0] == pytest.approx(0.115, rel=0.02)
    assert conductivity[1] == pytest.approx(6.9e-5, rel=0.35)
