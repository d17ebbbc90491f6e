"""How a person is reached, on their own page and through the API: added, ordered, tested, removed; nobody else's."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

from tests.integration.web.conftest import Site
from tests.integration.web.test_pages import Seen, form_token
from tests.parts.push import Device
from wickwatch.notify.vapid import load
from wickwatch.store import contacts, people


def somebody(site: Site, role: str = "grower") -> str:
    """A person of this test alone."""
    name = f"{role} {uuid4().hex[:6]}"
    with site.connect() as conn:
        site.scene.people[name] = people.add_person(conn, name, role, ["birchwood"], None)
    return name


def post(site: Site, name: str, path: str, **data: str) -> Any:
    browser = site.browser(name)
    return browser.post(path, data={"form_token": form_token(browser.get("/me").text), **data})


def ways(site: Site, person: str) -> list[tuple[str, str]]:
    with site.connect() as conn:
        return [(each.way, each.address) for each in contacts.of_person(conn, site.scene.people[person])]


def id_of(site: Site, person: str, address: str) -> UUID:
    with site.connect() as conn:
        found = contacts.of_person(conn, site.scene.people[person])
    return next(each.id for each in found if each.address == address)


def test_a_grower_adds_an_address_puts_it_first_and_takes_it_away(shown: Site) -> None:
    name = somebody(shown)
    for address in ("mara@example.org", "night@example.org"):
        assert post(shown, name, "/me/contacts", way="email", address=address).status_code == 303
    assert ways(shown, name) == [("email", "mara@example.org"), ("email", "night@example.org")]
    night = id_of(shown, name, "night@example.org")
    assert post(shown, name, f"/me/contacts/{night}/up").status_code == 303
    assert ways(shown, name) == [("email", "night@example.org"), ("email", "mara@example.org")]
    assert post(shown, name, f"/me/contacts/{night}/up").status_code == 303, "the first stays the first"
    assert post(shown, name, f"/me/contacts/{night}/remove").status_code == 303
    assert ways(shown, name) == [("email", "mara@example.org")]


def test_addresses_that_this_machine_calls_are_named_by_managers_only(shown: Site) -> None:
    name = somebody(shown)
    manager = somebody(shown, "manager")
    for way in ("webhook", "service"):
        assert post(shown, name, "/me/contacts", way=way, address="https://10.0.0.1/").status_code == 403
    assert 'name="way" value="email"' in shown.browser(name).get("/me").text
    made = post(shown, manager, "/me/contacts", way="webhook", address="https://hooks.example.org/a")
    assert made.status_code == 200 and "whsec_" in made.text
    assert "whsec_" not in shown.browser(manager).get("/me").text, "shown once"
    assert post(shown, manager, "/me/contacts", way="service", address="syslog://").status_code == 422
    assert post(shown, manager, "/me/contacts", way="push", address="https://push.example.org/1").status_code == 422
    assert post(shown, manager, "/me/contacts", way="service", address="jsons://k:s@example.org/x").status_code == 303
    told = shown.browser(manager).get("/me").text
    assert "jsons://…@example.org" in told and "k:s" not in told


def test_a_device_is_added_with_the_keys_its_browser_gave(shown: Site) -> None:
    name = somebody(shown)
    device = Device()
    with shown.connect() as conn:
        key = load(conn, "any@example.org").public_key
    assert f'data-key="{key}"' in shown.browser(name).get("/me").text
    given = {"address": "https://push.example.org/1", "key": device.key_text, "auth": device.auth_text}
    assert post(shown, name, "/me/devices", label="my phone", **given).status_code == 303
    told = Seen(shown.browser(name).get("/me").text).text
    assert "my phone message on a device · https://push.example.org" in told
    assert post(shown, name, "/me/devices", **(given | {"key": "AAAA"})).status_code == 422
    worker = shown.visitor().get("/worker.js")
    assert (worker.headers["content-type"].split(";")[0], worker.headers["cache-control"]) == (
        "text/javascript",
        "no-cache",
    )


def changed(device: Device, number: int, **other: str) -> dict[str, str]:
    """What the worker of a device tells whose subscription has changed, for the so manieth time."""
    address = "https://push.example.org/device-of-{}/{}"
    fresh = Device(auth=f"auth {number}".encode().ljust(16))
    former = {"former": address.format(device.auth_text, number - 1), "secret": device.auth_text}
    told = {"address": address.format(device.auth_text, number), "p256dh": fresh.key_text, "auth": device.auth_text}
    return {**former, **told, **other}


def subscribed(site: Site, name: str) -> tuple[Device, str]:
    """A device between two mail addresses of somebody new, and its address."""
    device = Device(auth=uuid4().bytes)
    told = changed(device, 1)
    with site.connect() as conn:
        who = site.scene.people[name]
        contacts.add(conn, who, "email", "mara@example.org")
        contacts.add_browser(conn, who, told["former"], device.key_text, device.auth_text, "my phone", site.now)
        contacts.add(conn, who, "email", "night@example.org")
    return device, told["former"]


def test_a_device_whose_subscription_changed_is_reached_in_its_old_place_without_a_sign_in(shown: Site) -> None:
    name = somebody(shown)
    device, _ = subscribed(shown, name)
    told = changed(device, 1)
    assert shown.visitor().post("/devices/renewed", json=told).status_code == 204
    wanted = [("email", "mara@example.org"), ("push", told["address"]), ("email", "night@example.org")]
    assert ways(shown, name) == wanted
    page = Seen(shown.browser(name).get("/me").text).text
    assert "my phone" in page and "no longer used" not in page
    assert shown.visitor().post("/devices/renewed", json=told).status_code == 404, "the former one is no more"
    assert shown.visitor().post("/devices/renewed", json=changed(device, 2)).status_code == 204


def test_a_device_that_its_push_service_had_ended_is_reached_again(shown: Site) -> None:
    name = somebody(shown)
    device, address = subscribed(shown, name)
    with shown.connect() as conn:
        contacts.gone(conn, id_of(shown, name, address), shown.now, "410 Gone")
    assert "no longer used" in shown.browser(name).get("/me").text
    assert shown.visitor().post("/devices/renewed", json=changed(device, 1)).status_code == 204
    assert [way for way, _ in ways(shown, name)] == ["email", "push", "email"]
    assert "no longer used" not in shown.browser(name).get("/me").text


def test_nobody_turns_a_device_to_an_address_of_theirs(shown: Site) -> None:
    name = somebody(shown)
    device, address = subscribed(shown, name)
    for wrong in (
        {"secret": Device(auth=uuid4().bytes).auth_text},
        {"secret": ""},
        {"former": "https://push.example.org/none"},
    ):
        assert shown.visitor().post("/devices/renewed", json=changed(device, 1, **wrong)).status_code == 404
    for bad in ({"address": "http://10.0.0.1/"}, {"p256dh": "AAAA"}, {"auth": "AAAA"}):
        assert shown.visitor().post("/devices/renewed", json=changed(device, 1, **bad)).status_code == 422
    assert ("push", address) in ways(shown, name)
    assert post(shown, name, f"/me/contacts/{id_of(shown, name, address)}/remove").status_code == 303
    assert shown.visitor().post("/devices/renewed", json=changed(device, 1)).status_code == 404, "a person took it away"


def test_a_test_is_queued_once_for_one_way_and_its_result_is_shown(shown: Site) -> None:
    name = somebody(shown)
    for address in ("mara@example.org", "night@example.org"):
        post(shown, name, "/me/contacts", way="email", address=address)
    first = id_of(shown, name, "mara@example.org")
    for _ in range(2):
        assert post(shown, name, f"/me/contacts/{first}/test").status_code == 303
    with shown.connect() as conn:
        rows = conn.execute(
            "SELECT address, purpose, alarm_id, state FROM notice WHERE person_id = %s", (shown.scene.people[name],)
        ).fetchall()
    assert rows == [("mara@example.org", "test", None, "queued")]
    assert "is on its way" in shown.browser(name).get("/me").text
    with shown.connect() as conn:
        mine = (shown.scene.people[name],)
        conn.execute("UPDATE notice SET state = 'dead', done_at = now() WHERE person_id = %s", mine)
        conn.execute(
            "INSERT INTO notice_attempt SELECT id, 1, now(), false, '550 nobody here' FROM notice WHERE person_id = %s",
            mine,
        )
    assert "could not be sent: 550 nobody here" in shown.browser(name).get("/me").text
    assert "could not be delivered" not in shown.browser(name).get("/alarms").text, "a test is no call"


def test_nobody_touches_the_contacts_of_others(shown: Site) -> None:
    name = somebody(shown)
    post(shown, name, "/me/contacts", way="email", address="mara@example.org")
    hers = id_of(shown, name, "mara@example.org")
    for act in ("test", "up", "remove"):
        assert post(shown, "Root", f"/me/contacts/{hers}/{act}").status_code == 422
    assert shown.program("Root").post(f"/api/v1/contacts/{hers}/test").status_code == 404
    assert shown.program("Root").get("/api/v1/contacts").json() == {"items": []}
    assert ways(shown, name) == [("email", "mara@example.org")]
    with shown.connect() as conn:
        assert conn.execute("SELECT count(*) FROM notice WHERE contact_id = %s", (hers,)).fetchone() == (0,)


def test_a_program_lists_and_tests_its_persons_contacts(shown: Site) -> None:
    name = somebody(shown)
    post(shown, name, "/me/contacts", way="email", address="mara@example.org")
    program = shown.program(name)
    (contact,) = program.get("/api/v1/contacts").json()["items"]
    assert (contact["way"], contact["address"], contact["test"]) == ("email", "mara@example.org", None)
    answer = program.post(f"/api/v1/contacts/{contact['id']}/test")
    assert answer.status_code == 202 and answer.json()["state"] == "queued"
    (contact,) = program.get("/api/v1/contacts").json()["items"]
    assert contact["test"]["state"] == "queued"
