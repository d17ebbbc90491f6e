"""The measures of a week, on the page and in the API."""

from __future__ import annotations

from tests.integration.web.conftest import Site


def test_a_program_reads_each_measure_beside_its_target_and_source(shown: Site) -> None:
    answer = shown.program("Mara").get("/api/v1/measures", params={"facility": "birchwood"})
    assert answer.status_code == 200
    told = answer.json()
    assert (told["week"], told["from"], told["to"]) == ("2026-W48", "2026-11-22T23:00:00Z", "2026-11-25T09:30:00Z")
    by_name = {each["name"]: each for each in told["measures"]}
    assert by_name["alarms"]["value"] == 4  # eight in the scene, of which four are explained
    assert by_name["flood_share"] | {"label": ""} == {
        "name": "flood_share", "label": "", "value": 0.0, "unit": "share", "target": "less than 1 %",
        "source": "ANSI/ISA-18.2-2016 and IEC 62682, from summaries", "met": True,
    }  # fmt: skip
    (mara,) = told["people"]
    assert mara["name"] == "Mara" and mara["id"] == str(shown.scene.people["mara"])
    assert {each["name"]: each["value"] for each in mara["measures"]}["to_acknowledge_median_s"] == 300
    assert len(told["most_frequent"]) == 4 and told["standing"] == []


def test_a_week_without_anything_and_one_that_is_none(shown: Site) -> None:
    api = shown.program("Mara")

    def asked(**params: str) -> tuple[int, str]:
        answer = api.get("/api/v1/measures", params=params)
        return answer.status_code, answer.text

    status, text = asked(facility="birchwood", week="2026-W01")
    assert status == 200 and '"value":0.0' in text
    assert asked(facility="saltmarsh")[0] == 404  # Mara may not see it
    for wrong in ("2026-W60", "next"):
        status, text = asked(facility="birchwood", week=wrong)
        assert status == 422 and "as ISO 8601 writes it" in text
    status, text = asked(facility="birchwood", week="2027-W01")
    assert status == 422 and "2026-W48 or one before it" in text


def test_the_page_says_the_week_in_a_sentence_and_names_every_source(shown: Site) -> None:
    page = shown.browser("Mara").get("/measures")
    assert page.status_code == 200
    text = " ".join(page.text.split())
    assert "Birchwood House, week 2026-W48: 23 November 2026 to 29 November 2026, until now" in text
    assert "4 alarms asked for somebody. Nothing was more than the standards aim at." in text
    for said in ("ANSI/ISA-18.2-2016", "EEMUA 191", "no published target", "Week before", "Mara"):
        assert said in text
    assert "Week after" not in text
    before = shown.browser("Mara").get("/measures?week=2026-W47").text
    assert "0 alarms asked for somebody" in before and "week=2026-W48" in before
    assert "a week as ISO 8601 writes it" in shown.browser("Mara").get("/measures?week=nonsense").text
    assert shown.browser("Mara").get("/measures?facility=saltmarsh").status_code == 404
