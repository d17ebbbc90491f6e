"""Which services may be named by a URL: those of a well-kept library, but for what acts on this machine.

A URL may come from somebody who has no business on this machine: so nothing that speaks to its desktop, its log or its
devices is taken, and no part of a URL that reads or writes a file here or says how long we wait. A test walks all that
the library knows, so that a new one of that kind is noticed. Not here: sending (`channels.service`).
"""

from __future__ import annotations

from urllib.parse import parse_qsl, urlsplit

from wickwatch.errors import InputError
from wickwatch.texts import _
from wickwatch.urls import Hidden

#: Modules of the library whose services act on this machine, or keep keys in files of it.
LOCAL = frozenset({"blink1", "dbus", "glib", "gnome", "macosx", "syslog", "vapid", "windows"})

#: Parts of a URL that name a file of this machine.
FILES = frozenset({"attach", "ca_certs", "certificate", "file", "keyfile", "pem", "pgpkey", "subfile", "template"})

#: Parts of a URL that say how long and how often to try; the outbox does that.
PATIENCE = frozenset({"cto", "retry", "rto", "wait"})


def check(url: str) -> None:
    """Raise InputError unless the URL names a service that may be used."""
    from apprise import Apprise  # noqa: PLC0415 -- its two hundred services are loaded where one is used

    if module(url.partition("://")[0]) in LOCAL:
        raise InputError(_("address of a service"), Hidden(url), _("a service that is not on this machine"))
    try:
        query = {name.lower() for name, _ in parse_qsl(urlsplit(url).query, keep_blank_values=True)}
    except ValueError:
        query = set()
    refused = sorted(query & (FILES | PATIENCE))
    if refused:
        raise InputError(_("address of a service"), Hidden(url), _("a URL without %(value)s", value=", ".join(refused)))
    if Apprise.instantiate(url, suppress_exceptions=True) is None:
        raise InputError(
            _("address of a service"), Hidden(url), _("a URL of a service that is known, with all it needs")
        )


def module(scheme: str) -> str:
    """The library's module behind a scheme; empty where it knows none."""
    from apprise.manager_plugins import NotificationManager  # noqa: PLC0415 -- as above

    known = NotificationManager()  # type: ignore[no-untyped-call]
    if scheme.lower() not in known:
        return ""
    return str(known[scheme.lower()].__module__).removeprefix("apprise.plugins.").partition(".")[0]
