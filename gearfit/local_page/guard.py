"""Who may ask: the browser window that was opened with the key, from this machine, from pages of this address alone.

- The key in the first address is exchanged for a cookie that no other site's request carries (SameSite=Strict,
  RFC 6265bis) and no script reads.
- `Host` has to be the address itself, so that a foreign name that is made to lead here (DNS rebinding) gets nothing.
- What changes anything has to say that it comes from here (`Origin`, RFC 6454).
"""

from __future__ import annotations

import secrets
from hmac import compare_digest
from typing import Final

from flask import Flask, Response, abort, redirect, request
from werkzeug.wrappers import Response as AnyResponse

#: Pages load from here alone and are shown in no foreign frame.
POLICY: Final = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "frame-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'self'"
)
#: A report keeps its own script and nothing of these pages: it counts as a page from elsewhere.
REPORT_POLICY: Final = "sandbox allow-scripts allow-modals allow-downloads allow-popups; frame-ancestors 'self'"
_HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    # With "no-referrer" the forms of these pages would be sent with the origin "null".
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
_ASKS_ONLY: Final = ("GET", "HEAD")


class Guard:
    """Keeps everybody else out.

    Parameters
    ----------
    app : flask.Flask
        What is guarded.
    address : str
        Host and port as the browser sends them, such as "127.0.0.1:8123".
    """

    def __init__(self, app: Flask, address: str) -> None:
        self._address = address
        self._cookie = f"gearfit-{address.rpartition(':')[2]}"
        self.key, self._pass = secrets.token_urlsafe(24), secrets.token_urlsafe(24)
        app.before_request(self._check)
        app.after_request(_with_headers)
        app.add_url_rule("/enter/<key>", view_func=self._enter)

    @property
    def entrance(self) -> str:
        """The address that opens the pages."""
        return f"http://{self._address}/enter/{self.key}"

    def _check(self) -> None:
        if request.headers.get("Host") != self._address:
            abort(403, "This address is for this machine alone.")
        if request.method not in _ASKS_ONLY and request.headers.get("Origin") != f"http://{self._address}":
            abort(403, "This came from another page.")
        inside = compare_digest(request.cookies.get(self._cookie, "").encode(), self._pass.encode())
        if not inside and request.endpoint not in ("_enter", "static"):
            abort(403, "Open the address that gearfit printed; it holds a key.")

    def _enter(self, key: str) -> AnyResponse:
        if not compare_digest(key.encode(), self.key.encode()):
            abort(403, "This key is not the one that gearfit printed.")
        answer = redirect("/")
        answer.set_cookie(self._cookie, self._pass, httponly=True, samesite="Strict")
        return answer


def _with_headers(answer: Response) -> Response:
    for name, value in _HEADERS.items():
        answer.headers.setdefault(name, value)
    return answer
