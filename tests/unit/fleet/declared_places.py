"""Made-up facilities for property tests: any that a fleet file can declare, never two channels alike."""

from __future__ import annotations

from datetime import time
from itertools import count

from hypothesis import strategies as st

from wickwatch.fleet.declared import (
    DeclaredContainer,
    DeclaredFacility,
    DeclaredGateway,
    DeclaredLine,
    DeclaredReservoir,
    DeclaredRoom,
)
from wickwatch.texts import CLOCKS, TENSION_UNITS, VOLUME_UNITS

slugs = st.from_regex(r"[a-z0-9][a-z0-9-]{0,8}", fullmatch=True)
# Whatever is printable, so that quotes, backslashes and every script are among them.
names = st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=8)
advice = st.dictionaries(
    st.sampled_from(["reservoir-empty", "drying-drift"]),
    st.lists(names, min_size=1, max_size=2).map("\n".join),
    max_size=2,
)
lengths_mm = st.floats(1, 5000)
rules = st.dictionaries(st.sampled_from(["drift_days", "low_hours", "settled_mbar"]), st.floats(3, 28), max_size=3)
shapes = st.one_of(
    st.tuples(st.just("cylinder"), st.fixed_dictionaries({"diameter_mm": lengths_mm, "height_mm": st.just(900.0)})),
    st.tuples(
        st.just("table"),
        st.fixed_dictionaries({"strapping": st.just(((0.0, 0.0), (450.5, 1e-3), (900.0, 26.1)))}),
    ),
)


@st.composite
def facilities(draw: st.DrawFn) -> DeclaredFacility:
    """One facility with up to three rooms."""
    numbers = count(1)

    def channel(quantity: str) -> str | None:
        return f"urn:dev:mac:{next(numbers):016x}:{quantity}" if draw(st.booleans()) else None

    def unique(most: int) -> list[str]:
        return draw(st.lists(slugs, max_size=most, unique=True))

    def reservoir(slug: str) -> DeclaredReservoir:
        shape, keys = draw(shapes)
        return DeclaredReservoir(
            slug, draw(names), shape, keys, draw(st.floats(0, 400)), draw(st.floats(-99, 99)), draw(st.floats(0, 400)),
            draw(rules), channel("level"),
        )  # fmt: skip

    def container(slug: str, lines: list[str]) -> DeclaredContainer:
        tension = channel("tension")
        return DeclaredContainer(
            slug,
            draw(names),
            draw(st.sampled_from([*lines, None])),
            draw(st.none() | st.floats(0.001, 1000)),
            draw(st.none() | names),
            draw(st.integers(1, 50)),
            draw(rules),
            tension,
            None if tension is None else channel("tension"),
            channel("temperature"),
        )

    def room(slug: str) -> DeclaredRoom:
        reservoirs, lines = unique(2), unique(2)
        hours = draw(st.lists(st.times().map(lambda t: time(t.hour, t.minute)), min_size=2, max_size=2, unique=True))
        return DeclaredRoom(
            slug,
            draw(names),
            hours[0],
            hours[1],
            draw(rules),
            channel("temperature"),
            channel("humidity"),
            tuple(reservoir(one) for one in reservoirs),
            tuple(
                DeclaredLine(
                    one,
                    draw(names),
                    draw(st.sampled_from(["loop", "dead-end"])),
                    draw(st.sampled_from([*reservoirs, None])),
                    channel("flow"),
                )
                for one in lines
            ),
            tuple(container(one, lines) for one in unique(3)),
        )

    return DeclaredFacility(
        draw(slugs),
        draw(names),
        draw(st.sampled_from(["UTC", "Europe/Oslo", "America/St_Johns"])),
        draw(st.sampled_from(["en", "de"])),
        draw(st.sampled_from(TENSION_UNITS)),
        draw(st.sampled_from(VOLUME_UNITS)),
        draw(st.sampled_from(CLOCKS)),
        draw(rules),
        draw(advice),
        tuple(DeclaredGateway(one) for one in unique(2)),
        tuple(room(one) for one in unique(3)),
    )
