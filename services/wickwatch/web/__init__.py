"""Pages for people and the JSON API for programs."""

from wickwatch.web.app import create_app
from wickwatch.web.server import run

__all__ = ["create_app", "run"]
