"""The screens on a loopback address: Streamlit, plus the catalogue's pictures by address."""

from __future__ import annotations

import os
import re
from contextlib import suppress
from pathlib import Path
from typing import Any

import streamlit as st
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ui.settings_file import CATALOG_VARIABLE, PICTURES_VARIABLE
from ui.shared_catalog import picture_bytes
from ui.theme import THEME_FILE

ADDRESS = "127.0.0.1"
"""Loopback: the screens know no password, so nobody else on the network may reach them."""
PORT = 8501
MAX_UPLOAD_MB = 200
"""One photograph of a full-frame camera is 10 to 60 MB."""
SCREENS = Path(__file__).with_name("app.py")
_SHA256 = re.compile(r"[0-9a-f]{64}")


def serve(*, catalog_url: str | None, pictures: str | None, port: int = PORT) -> None:
    """Serve the screens until interrupted.

    Parameters
    ----------
    catalog_url, pictures : str or None
        Catalogue and picture store, as `catalog.catalog.open_catalog` takes them; handed to the
        screens through the environment.
    port : int
        Port on the loopback address.
    """
    for variable, value in ((CATALOG_VARIABLE, catalog_url), (PICTURES_VARIABLE, pictures)):
        if value is not None:
            os.environ[variable] = value
    app = st.App(SCREENS, routes=[Route("/picture/{sha256}", _picture)])
    with suppress(KeyboardInterrupt):  # the way to end it
        app.run(config=_config(port))


def _config(port: int) -> dict[str, Any]:
    return {
        "server.address": ADDRESS,
        "server.port": port,
        "server.headless": True,
        "server.fileWatcherType": "none",
        "server.maxUploadSize": MAX_UPLOAD_MB,
        "server.enableStaticServing": False,
        "server.allowedHosts": ["127.0.0.1", "localhost"],
        "browser.gatherUsageStats": False,
        "client.toolbarMode": "minimal",
        "client.showErrorLinks": False,
        "runner.magicEnabled": False,
        "theme.base": str(THEME_FILE),
    }


def _picture(request: Request) -> Response:
    """Answer with a stored picture; its name is the digest of its bytes, so it never changes."""
    sha256 = request.path_params["sha256"]
    host = (request.url.hostname or "").lower()
    if host not in {"127.0.0.1", "localhost"} or not _SHA256.fullmatch(sha256):
        return Response(status_code=404)
    data = picture_bytes(sha256)
    if data is None:
        return Response(status_code=404)
    kind = "image/png" if data.startswith(b"\x89PNG") else "image/jpeg"
    headers = {
        "Cache-Control": "private, max-age=31536000, immutable",
        "X-Content-Type-Options": "nosniff",
    }
    return Response(data, media_type=kind, headers=headers)
