"""Our style sheets, scripts and icons, and the libraries of others, held in memory and kept by browsers until they
change.

Not here: templates.
"""

from __future__ import annotations

import gzip
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from importlib.util import find_spec
from pathlib import Path

from fastapi import APIRouter, Request, Response

from wickwatch.web.problems import ProblemError

_FOLDER = Path(__file__).parent / "static"

_TYPES = {
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
}

#: Libraries of others by our address for them: the package that brings each, and where in it. Chart.js draws charts.
_LIBRARIES = {"lib/chart.js": ("chartkick", "django/static/chartkick/Chart.bundle.js")}


@dataclass(frozen=True)
class File:
    """One file, plain and compressed."""

    media_type: str
    plain: bytes
    compressed: bytes


@dataclass(frozen=True)
class Files:
    """All files by path; `version` changes with any of them and is part of their address."""

    version: str
    by_path: Mapping[str, File]


@cache
def load() -> Files:
    """Read the files that come with the package, once."""
    found = {}
    digest = sha256()
    own = {path.relative_to(_FOLDER).as_posix(): path for path in sorted(_FOLDER.rglob("*")) if path.suffix in _TYPES}
    for name, path in (own | {name: _of_package(*where) for name, where in _LIBRARIES.items()}).items():
        plain = path.read_bytes()
        digest.update(plain)
        found[name] = File(_TYPES[path.suffix], plain, gzip.compress(plain, 9, mtime=0))
    return Files(digest.hexdigest()[:16], found)


def _of_package(package: str, path: str) -> Path:
    """A file that an installed package brings, found without importing the package."""
    found = find_spec(package)
    assert found is not None and found.submodule_search_locations, f"{package} is a dependency"
    return Path(found.submodule_search_locations[0], path)


def router(files: Files) -> APIRouter:
    """Serves the files."""
    made = APIRouter(include_in_schema=False)

    @made.get("/static/{version}/{path:path}", name="static")
    async def serve(version: str, path: str, request: Request) -> Response:
        file = files.by_path.get(path)
        if file is None:
            raise ProblemError(404, "there is no such file")
        keep = "public, max-age=31536000, immutable" if version == files.version else "no-cache"
        headers = {"Cache-Control": keep, "Vary": "Accept-Encoding"}
        body = file.plain
        if "gzip" in request.headers.get("accept-encoding", ""):
            body = file.compressed
            headers["Content-Encoding"] = "gzip"
        return Response(body, headers=headers, media_type=file.media_type)

    @made.get("/worker.js")
    async def worker() -> Response:
        # A service worker may act for the folder it is served from, and browsers look for a new one by themselves.
        file = files.by_path["worker.js"]
        return Response(file.plain, headers={"Cache-Control": "no-cache"}, media_type=file.media_type)

    return made
