"""Settings: from the environment over a file; what is unknown or bad stops the start; nothing secret is shown."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickwatch.errors import InputError, SettingsError
from wickwatch.settings import ACCEPTED, Settings, for_people, load, require, variable
from wickwatch.urls import MAIL_SCHEMES, MQTT_SCHEMES, WEB_SCHEMES, Endpoint, Hidden, endpoint

SECRET = "s3cr3t"


@pytest.fixture(autouse=True)
def nothing_set(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in list(os.environ):
        if name.upper().startswith("WICKWATCH_"):
            monkeypatch.delenv(name)


def refused(monkeypatch: pytest.MonkeyPatch, **given: str) -> str:
    for name, value in given.items():
        monkeypatch.setenv(name, value)
    with pytest.raises(SettingsError) as caught:
        load()
    return str(caught.value)


def test_without_any_setting_the_embedded_parts_are_meant(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    settings = load()
    assert (settings.database_url, settings.mqtt_url, settings.secret_key, settings.smtp_url) == ("", "", "", "")
    assert settings.home == tmp_path / ".wickwatch"
    assert settings.base_url == "http://127.0.0.1:8000"


def test_every_setting_is_read_from_its_variable(monkeypatch: pytest.MonkeyPatch) -> None:
    given_values = {
        "database_url": "postgresql://u:p@h:5433/d",
        "mqtt_url": "mqtts://u:p@h",
        "home": "/var/lib/wickwatch",
        "base_url": "https://watch.example.org/grow",
        "secret_key": SECRET,
        "smtp_url": "smtp://u:p@h:25",
        "mail_from": "Wickwatch <watch@example.org>",
        "heartbeat_url": "https://example.org/beat/123",
        "openid_issuer": "https://id.example.org/house/",
        "openid_client_id": "wickwatch",
        "openid_client_secret": SECRET,
    }
    assert set(given_values) == set(ACCEPTED)
    for field, value in given_values.items():
        monkeypatch.setenv(variable(field), value)
    settings = load()
    assert {field: str(getattr(settings, field)) for field in ACCEPTED} == given_values


def test_an_empty_variable_is_one_that_is_not_given(monkeypatch: pytest.MonkeyPatch) -> None:
    for field in ACCEPTED:
        monkeypatch.setenv(variable(field), "")
    assert load() == Settings()


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("WICKWATCH_DATABASE_URL", "mysql://h/d", "WICKWATCH_DATABASE_URL is 'mysql://h'; accepted: postgresql://user"),
        ("WICKWATCH_DATABASE_URL", "host=h dbname=d", "WICKWATCH_DATABASE_URL is text that is not an address (hidden)"),
        ("WICKWATCH_DATABASE_URL", "postgresql://h/d?nothing=1", "is 'postgresql://h'; accepted: postgresql://user"),
        (
            "WICKWATCH_MQTT_URL",
            "h:1883",
            "WICKWATCH_MQTT_URL is text that is not an address (hidden); accepted: mqtt://",
        ),
        ("WICKWATCH_MQTT_URL", "mqtt://h:99999", "WICKWATCH_MQTT_URL is 'mqtt://h:99999'; accepted: mqtt://user"),
        ("WICKWATCH_MQTT_URL", "mqtt://h/topic", "WICKWATCH_MQTT_URL is 'mqtt://h'; accepted: mqtt://user"),
        ("WICKWATCH_MQTT_URL", "mqtt://", "WICKWATCH_MQTT_URL is 'mqtt://'; accepted: mqtt://user"),
        ("WICKWATCH_BASE_URL", "watch.example.org", "WICKWATCH_BASE_URL is text that is not an address (hidden)"),
        ("WICKWATCH_SMTP_URL", "http://h", "WICKWATCH_SMTP_URL is 'http://h'; accepted: smtp://user"),
        ("WICKWATCH_MAIL_FROM", "nobody", "WICKWATCH_MAIL_FROM is 'nobody'; accepted: one mail address"),
        ("WICKWATCH_MAIL_FROM", "a@b.org\nBcc: c@d.org", "WICKWATCH_MAIL_FROM is 'a@b.org\\nBcc: c@d.org'; accepted"),
        ("WICKWATCH_HEARTBEAT_URL", "ftp://h/x", "WICKWATCH_HEARTBEAT_URL is 'ftp://h'; accepted: http:// or https://"),
        ("WICKWATCH_OPENID_ISSUER", "http://id.example.org", "WICKWATCH_OPENID_ISSUER is 'http://id.example.org'"),
        ("WICKWATCH_SMTP_PORT", "25", "setting is 'WICKWATCH_SMTP_PORT'; accepted: one of WICKWATCH_DATABASE_URL"),
        ("wickwatch_smtp_port", "25", "setting is 'wickwatch_smtp_port'; accepted: one of WICKWATCH_DATABASE_URL"),
        (
            "WICKWATCH_CONFIG",
            "/nowhere/at.toml",
            "WICKWATCH_CONFIG is '/nowhere/at.toml'; accepted: a file of settings",
        ),
    ],
)
def test_what_can_not_be_taken_stops_the_start(
    name: str, value: str, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert said in refused(monkeypatch, **{name: value})


@pytest.mark.parametrize(
    "text",
    [
        'database_url = "postgresql://h/d"\nsecret_key = "from the file"\nbase_url = "http://file:1"\n',
        'WICKWATCH_DATABASE_URL = "postgresql://h/d"\nWICKWATCH_SECRET_KEY = "from the file"\nBASE_URL = "http://file:1"\n',
    ],
)
def test_a_toml_file_names_settings_with_or_without_the_prefix(
    text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "wickwatch.toml"
    file.write_text(text)
    monkeypatch.setenv("WICKWATCH_CONFIG", str(file))
    monkeypatch.setenv("WICKWATCH_BASE_URL", "http://environment:2")
    settings = load()
    assert (settings.database_url, settings.secret_key) == ("postgresql://h/d", "from the file")
    assert settings.base_url == "http://environment:2"


def test_a_file_of_lines_is_shared_with_other_programs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / ".env"
    file.write_text(
        "# for the containers\nPOSTGRES_PASSWORD=other\nexport WICKWATCH_SECRET_KEY='a $key'\nWICKWATCH_SMTP_URL=\n"
    )
    monkeypatch.setenv("WICKWATCH_CONFIG", str(file))
    settings = load()
    assert (settings.secret_key, settings.smtp_url) == ("a $key", "")


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("a.toml", "database = 'x'", "setting is 'database in "),
        ("a.toml", "secret_key = 5", "WICKWATCH_SECRET_KEY will not do; accepted: text"),
        ("a.toml", "mqtt_url = ['x']", "WICKWATCH_MQTT_URL is a list; accepted: mqtt://"),
        ("a.toml", "secret_key = ", "a file of settings in TOML or NAME=value lines, but: Invalid value"),
        ("a.env", "WICKWATCH_DATABASE=x", "setting is 'WICKWATCH_DATABASE in "),
        ("a.env", "WICKWATCH_CONFIG=b.env", "setting is 'WICKWATCH_CONFIG in "),
    ],
)
def test_a_mistake_in_the_file_stops_the_start(
    name: str, text: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / name).write_text(text)
    assert said in refused(monkeypatch, WICKWATCH_CONFIG=str(tmp_path / name))


def test_a_setting_that_a_command_needs_is_asked_for_by_name() -> None:
    require(Settings(secret_key=SECRET), "secret_key")
    with pytest.raises(SettingsError, match=r"WICKWATCH_MQTT_URL is ''; accepted: mqtt://\S+ or mqtts://host:8883$"):
        require(Settings(secret_key=SECRET), "secret_key", "mqtt_url")


def test_no_password_and_no_key_is_ever_shown() -> None:
    settings = Settings(
        database_url=f"postgresql://u:{SECRET}@h/d?password={SECRET}",
        mqtt_url=f"mqtt://u:{SECRET}@h",
        smtp_url=f"smtp://u:{SECRET}@h",
        heartbeat_url=f"https://h/{SECRET}",
        secret_key=SECRET,
        openid_client_secret=SECRET,
    )
    assert SECRET not in repr(settings)
    assert SECRET not in str(for_people(settings))
    assert for_people(settings)["WICKWATCH_MQTT_URL"] == "mqtt://…@h"


@pytest.mark.parametrize(
    "value",
    [
        f"mqtt://u:{SECRET}@h:99999",
        f"mqtt://u:{SECRET}/x@h:99999",
        f"mqtt://u:x@{SECRET}@h:99999",
        f"mqtt://u:x?{SECRET}@h:99999",
        f"u:{SECRET}@h",
        f"http://u:{SECRET}@h",
        f"mqtt://h/{SECRET}",
        f"mqtt://h?password=a@{SECRET}",
    ],
)
def test_an_error_shows_no_password_however_badly_the_address_is_written(
    value: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert SECRET not in refused(monkeypatch, WICKWATCH_MQTT_URL=value)


@pytest.mark.parametrize(
    ("url", "schemes", "found"),
    [
        ("mqtt://h", MQTT_SCHEMES, Endpoint("mqtt", "h", 1883, tls=False)),
        ("mqtts://h", MQTT_SCHEMES, Endpoint("mqtts", "h", 8883, tls=True)),
        (
            "mqtt://u%40x:p%2F%3A@h:1884/",
            MQTT_SCHEMES,
            Endpoint("mqtt", "h", 1884, tls=False, username="u@x", password="p/:"),
        ),
        ("mqtt://[::1]:1", MQTT_SCHEMES, Endpoint("mqtt", "::1", 1, tls=False)),
        ("smtp://u@h", MAIL_SCHEMES, Endpoint("smtp", "h", 587, tls=False, username="u")),
        ("smtps://u:@h", MAIL_SCHEMES, Endpoint("smtps", "h", 465, tls=True, username="u", password="")),
        ("https://h/path?query=1", WEB_SCHEMES, Endpoint("https", "h", 443, tls=True)),
    ],
)
def test_an_address_is_taken_apart(url: str, schemes: dict[str, int], found: Endpoint) -> None:
    assert endpoint(url, schemes) == found
    assert "p/:" not in repr(endpoint(url, schemes))


@given(st.text())
def test_no_text_breaks_the_taking_apart_of_addresses(text: str) -> None:
    for url in (text, f"mqtt://{text}", f"mqtt://h:{text}"):
        repr(Hidden(url))
        try:
            endpoint(url, MQTT_SCHEMES)
        except InputError:
            continue


def test_mail_comes_from_the_address_given_or_from_one_where_people_look() -> None:
    assert Settings(mail_from="w@example.org").sender == "w@example.org"
    assert Settings(base_url="https://grow.example.org:8443").sender == "wickwatch@grow.example.org"
