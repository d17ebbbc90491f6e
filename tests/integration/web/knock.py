"""What one request is made of. Not here: the requests themselves (`doors`)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Knock:
    """One request. `form` holds the fields of a page's form, `ends` says that it ends the sender's session."""

    path: str
    form: Mapping[str, Any] | None = None
    json: Any = None
    headers: Mapping[str, str] = field(default_factory=dict)
    ends: bool = False
