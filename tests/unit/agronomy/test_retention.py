"""Laws that any retention curve and its scanning curves obey."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickwatch.agronomy import retention
from wickwatch.agronomy.media import MEDIA, medium
from wickwatch.agronomy.retention import Reversal, VanGenuchten
from wickwatch.errors import InputError

media = st.sampled_from(sorted(MEDIA)).map(MEDIA.__getitem__)
PEAT = MEDIA["peat-perlite"]


@given(media, st.floats(0.5, 900.0))
def test_tension_and_water_content_round_trip(any_medium: VanGenuchten, tension: float) -> None:
    back = retention.tension_mbar(any_medium, retention.theta(any_medium, tension))
    assert back == pytest.approx(tension, rel=1e-6)


@given(media)
def test_water_and_conductivity_fall_as_tension_rises(any_medium: VanGenuchten) -> None:
    tension = np.geomspace(0.1, 2000.0, 200)
    assert (np.diff(retention.theta(any_medium, tension)) < 0.0).all()
    assert (np.diff(retention.conductivity_cm_per_d(any_medium, tension)) < 0.0).all()


def test_standing_water_saturates_and_missing_stays_missing() -> None:
    assert retention.theta(PEAT, [-50.0, 0.0]) == pytest.approx(PEAT.theta_s, rel=1e-15)
    assert retention.conductivity_cm_per_d(PEAT, [-50.0, 0.0]) == pytest.approx(PEAT.ks_cm_per_d, rel=1e-15)
    assert np.isnan(retention.theta(PEAT, np.nan))
    assert np.isnan(retention.tension_mbar(PEAT, np.nan))


def test_no_tension_brings_a_medium_below_its_residual_water() -> None:
    found = retention.tension_mbar(PEAT, [PEAT.theta_r - 0.01, PEAT.theta_r, PEAT.theta_s, PEAT.theta_s + 0.01])
    assert np.isnan(found[0])
    assert found[1] == np.inf
    assert found[2:].tolist() == [0.0, 0.0]


@given(media, st.floats(5.0, 400.0), st.booleans(), st.floats(0.2, 0.9))
def test_a_scanning_curve_starts_at_its_reversal_point_and_inverts(
    any_medium: VanGenuchten, reversal: float, wetting: bool, share: float
) -> None:
    at = float(retention.theta(any_medium, reversal))
    since = Reversal(reversal, at, wetting)
    assert retention.scanning_theta(any_medium, reversal, since) == pytest.approx(at, rel=1e-12)
    tension = reversal * share if wetting else reversal / share
    water = retention.scanning_theta(any_medium, tension, since)
    back = retention.scanning_tension_mbar(any_medium, water, since)
    assert back == pytest.approx(tension, rel=1e-5)


def test_at_one_tension_a_medium_wetted_again_is_drier_than_one_drying() -> None:
    tension = np.linspace(5.0, 290.0, 50)
    wetted = retention.scanning_theta(PEAT, tension, Reversal(300.0, retention.theta(PEAT, 300.0), True))
    assert (wetted < retention.theta(PEAT, tension)).all()


def test_drying_from_saturation_is_the_main_drying_curve() -> None:
    tension = np.array([0.0, 10.0, 100.0, 500.0])
    found = retention.scanning_theta(PEAT, tension, Reversal(0.0, PEAT.theta_s, False))
    assert found == pytest.approx(retention.theta(PEAT, tension), rel=1e-14)


def test_wetting_that_starts_saturated_stays_on_the_main_wetting_curve() -> None:
    assert retention.scanning_theta(PEAT, 0.0, Reversal(0.0, PEAT.theta_s, True)) == PEAT.theta_s


@pytest.mark.parametrize(
    "parameters",
    [
        (0.5, 0.4, 0.1, 1.5, 1.0),
        (0.1, 0.9, 0.1, 1.0, 1.0),
        (0.1, 0.9, 0.0, 1.5, 1.0),
        (0.1, 0.9, 0.1, 1.5, np.nan),
    ],
)
def test_impossible_parameters_are_refused(parameters: tuple[float, float, float, float, float]) -> None:
    with pytest.raises(InputError):
        VanGenuchten(*parameters)


def test_an_unknown_medium_is_refused_with_the_known_ones() -> None:
    with pytest.raises(InputError, match="medium is 'gravel'; accepted: peat-perlite, coir, bark"):
        medium("gravel")


def test_every_medium_says_where_its_figures_come_from() -> None:
    assert all(known.source.startswith(("published: ", "derived: ")) for known in MEDIA.values())
