"""Weekly reports on the page: listed, asked for, handed out to those who may see them and to nobody else."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from tests.integration.web.conftest import NOW, Site
from tests.integration.web.test_pages import Seen
from wickwatch.store import reports
from wickwatch.store.reports import NewReport

STYLE = "p { color: red }"
HTML = f"<!doctype html><html lang=en><style>{STYLE}</style><p>hello"


def kept(site: Site, week: str = "2026-W47", complete: float = 99.0) -> UUID:
    """A report of birchwood that somebody made."""
    figures = {"in_band_percent": 91.04, "water_l": 1234.5, "alarms": 1, "complete_percent": complete}
    with site.connect() as conn:
        new = NewReport(
            site.scene.birchwood,
            week,
            NOW - timedelta(days=9),
            NOW - timedelta(days=2),
            NOW - timedelta(days=1),
            NOW - timedelta(days=2),
            {"facility": figures, "rooms": {}, "reached": None},
        )
        files = [
            (f"birchwood-{week}.html", "text/html; charset=utf-8", HTML.encode()),
            (f"birchwood-{week}-a4.pdf", "application/pdf", b"%PDF-1.7"),
            (f"birchwood-{week}-csv.zip", "application/zip", b"PK"),
        ]
        return reports.save(conn, new, files)


def order(site: Site, name: str, week: str, facility: str = "birchwood") -> int:
    """Press the button on the page; the answer's code."""
    browser = site.browser(name)
    page = Seen(browser.get("/reports").text)
    token = page.all("input", "value")[0]
    return browser.post("/reports", data={"form_token": token, "facility": facility, "week": week}).status_code


def underway(site: Site) -> list[str]:
    """Weeks that are asked for."""
    with site.connect() as conn:
        return [each.week for each in reports.underway(conn, [site.scene.birchwood, site.scene.saltmarsh], NOW)]


def test_reports_are_listed_with_their_figures_and_files(site: Site) -> None:
    kept(site, complete=80.0)
    page = Seen(site.browser("Otto").get("/reports?facility=birchwood").text)
    assert "2026-W47" in page.text
    assert "91.0 % in band, 1,234 l of water, 1 alarm, 80 % of the data" in page.text
    links = [link for link in page.all("a", "href") if link.startswith("/reports/")]
    assert [link.rpartition("2026-W47")[2] for link in links] == [".html", "-a4.pdf", "-csv.zip"]
    answers = [site.browser("Otto").get(link) for link in links]
    assert [answer.headers["content-type"] for answer in answers] == [
        "text/html; charset=utf-8",
        "application/pdf",
        "application/zip",
    ]
    assert answers[2].headers["content-disposition"] == 'attachment; filename="birchwood-2026-W47-csv.zip"'


def test_the_reports_own_style_is_allowed_and_no_other(site: Site) -> None:
    id = kept(site)
    policy = site.browser("Otto").get(f"/reports/{id}/birchwood-2026-W47.html").headers["content-security-policy"]
    # The hash of that very text by another program, openssl dgst -sha256.
    assert "style-src 'sha256-ngewhhP73WDIbgwseeu52VAAJgKdGUsu1IUQQsAm8m4='" in policy
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy


def test_nobody_of_another_facility_gets_a_file(site: Site) -> None:
    id = kept(site)
    assert site.browser("Ines").get(f"/reports/{id}/birchwood-2026-W47.html").status_code == 404
    assert site.browser("Ines").get("/reports?facility=birchwood").status_code == 404
    answer = site.visitor().get(f"/reports/{id}/birchwood-2026-W47.html")
    assert answer.headers["location"].startswith("/sign-in")


def test_a_manager_has_a_report_made_and_a_viewer_can_not(site: Site) -> None:
    assert order(site, "Root", "2026-W47") == 303
    assert underway(site) == ["2026-W47"]
    assert "2026-W47 waiting to be made, 0 %" in Seen(site.browser("Otto").get("/reports?facility=birchwood").text).text
    assert order(site, "Otto", "2026-W46") == 403
    assert order(site, "Ines", "2026-W46") == 404
    assert underway(site) == ["2026-W47"]


def test_a_week_that_is_none_or_has_not_begun_is_refused_in_words(site: Site) -> None:
    for week in ("2026-W54", "2026-W49", "soon"):
        browser = site.browser("Root")
        token = Seen(browser.get("/reports").text).all("input", "value")[0]
        answer = browser.post("/reports", data={"form_token": token, "facility": "birchwood", "week": week})
        assert "accepted: " in answer.text
    assert underway(site) == []


def test_a_form_without_its_token_orders_nothing(site: Site) -> None:
    browser = site.browser("Root")
    answer = browser.post("/reports", data={"form_token": "00", "facility": "birchwood", "week": "2026-W47"})
    assert answer.status_code == 403
    assert underway(site) == []


def test_a_person_is_sent_mondays_report_until_they_say_otherwise(site: Site) -> None:
    browser = site.browser("Otto")
    for wanted, sentence in (("true", "You are sent each Monday's report."), ("false", "Send it to me")):
        token = Seen(browser.get("/reports").text).all("input", "value")[0]
        answer = browser.post(
            "/reports/subscription", data={"form_token": token, "facility": "birchwood", "wanted": wanted}
        )
        assert answer.status_code == 303
        assert sentence in Seen(browser.get("/reports").text).text
