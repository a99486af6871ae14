"""The overlay page: one self-contained file that may run its own script and ask this service, no more."""

import base64
import hashlib
import re
from functools import cache
from importlib.resources import files

from starlette.responses import Response

from service.desk import Call


def show_overlay(call: Call) -> Response:
    """The page. It finds its session in its own address and asks for the events itself."""
    page, policy = overlay_page()
    headers = {"content-security-policy": policy, "referrer-policy": "no-referrer"}
    return Response(page, media_type="text/html", headers=headers)


@cache
def overlay_page() -> tuple[str, str]:
    """The page and the Content-Security-Policy that fits it."""
    page = files("service").joinpath("overlay.html").read_text(encoding="utf-8")
    style, script = (_digest(page, tag) for tag in ("style", "script"))
    policy = (
        f"default-src 'none'; style-src '{style}'; script-src '{script}'; connect-src 'self'; img-src data:; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
    return page, policy


def _digest(page: str, tag: str) -> str:
    found = re.search(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
    if found is None:
        raise ValueError(f"overlay.html has no <{tag}>")
    return "sha256-" + base64.b64encode(hashlib.sha256(found[1].encode()).digest()).decode()
