"""Answers for what looks after the server."""

from __future__ import annotations

from prometheus_client.openmetrics.parser import text_string_to_metric_families

from tests.integration.web.conftest import Site


def test_it_is_alive_and_ready_without_signing_in(both_site: Site) -> None:
    visitor = both_site.visitor()
    assert visitor.get("/healthz").json() == {"status": "ok"}
    assert visitor.get("/readyz").json() == {"status": "ok"}


def test_it_is_not_ready_while_the_database_lacks_a_migration(site: Site) -> None:
    with site.connect() as conn:
        conn.execute("DELETE FROM schema_migration")
    answer = site.visitor().get("/readyz")
    assert answer.status_code == 503
    assert "wickwatch migrate" in answer.json()["detail"]
    assert site.visitor().get("/healthz").status_code == 200


def test_metrics_are_openmetrics_and_name_no_place_or_person(both_site: Site) -> None:
    site = both_site
    site.browser("Mara").get("/")
    with site.connect() as conn:
        conn.execute("INSERT INTO quarantine_count VALUES (%s, 'unit', '2026-11-25', 7)", (site.scene.birchwood,))
    answer = site.visitor().get("/metrics")
    assert answer.headers["content-type"].startswith("application/openmetrics-text")
    samples = {
        (sample.name, *sorted(sample.labels.values())): sample.value
        for family in text_string_to_metric_families(answer.text)
        for sample in family.samples
    }
    assert samples["wickwatch_alarms_active", "drying-drift"] == 5
    assert samples["wickwatch_alarms_active", "reservoir-empty"] == 1
    assert samples["wickwatch_records_quarantined", "unit"] == 7
    assert samples["wickwatch_parts_alive", "watch"] == 1
    assert samples["wickwatch_requests_total", "/", "200", "GET"] == 1
    for name in ("irchwood", "Mara", "Room", "R3"):
        assert name not in answer.text
