"""What stands before the page: only requests that the page itself makes get through, and no large ones.

The server listens on this machine alone, but every program and every web page that the user visits can reach it
there. So each request must name this very server as its host (a name that an attacker lets point here does not), must
not come from another origin, and must know the random token in the address, which no other page can see.
"""

from __future__ import annotations

import hmac
from collections.abc import Iterable

from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BODY = 256_000
"""Largest body of a request [bytes]; a whole list of points is far smaller."""
MOST_ADDRESS = 1_000
"""Longest path and query [bytes]."""

HEADERS = (
    (b"content-security-policy",
     b"default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; "
     b"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"),
    (b"x-content-type-options", b"nosniff"), (b"referrer-policy", b"no-referrer"), (b"cache-control", b"no-store"),
    (b"cross-origin-resource-policy", b"same-origin"), (b"cross-origin-opener-policy", b"same-origin"),
)
"""What every answer of the page says; a packet's own page brings a policy of its own, which is stricter."""
PACKET_POLICY = b"connect-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; object-src 'none'"
"""The policy for files of a packet."""


class TooLarge(Exception):
    """The body of a request is larger than any that the page sends, though its head did not say so."""


class Guard:
    """Lets through what comes from the page, and refuses all else.

    Parameters
    ----------
    app
        What is behind it; it sees paths without the token.
    token
        The random part of the address.
    port
        Where the server listens.
    """

    def __init__(self, app: ASGIApp, *, token: str, port: int) -> None:
        self.app = app
        self.token = token.encode()
        self.host = f"127.0.0.1:{port}".encode()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        why = self.refusal(scope)
        if why is not None:
            await _refuse(send, *why)
            return
        _, _, rest = scope["path"].lstrip("/").partition("/")
        inner = {**scope, "path": f"/{rest}", "raw_path": f"/{rest}".encode(), "root_path": ""}

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = {name for name, _ in message.get("headers", ())}
                message = {**message, "headers": [*message.get("headers", ()),
                                                  *((name, value) for name, value in HEADERS if name not in own)]}
            await send(message)

        await self.app(inner, _bounded(receive), sending)

    def refusal(self, scope: Scope) -> tuple[int, str] | None:
        """Return why a request is refused, as a status and words; None when it is let through."""
        headers = scope["headers"]
        if _all(headers, b"host") != [self.host]:
            return 403, "refused: this server is for 127.0.0.1 only"
        origins = _all(headers, b"origin")
        if origins not in ([], [b"http://" + self.host]) or (not origins and scope["method"] not in ("GET", "HEAD")):
            return 403, "refused: the request comes from another origin"
        if _all(headers, b"sec-fetch-site") not in ([], [b"same-origin"], [b"none"]):
            return 403, "refused: the request comes from another site"
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return 405, "refused: GET and POST only"
        if len(scope.get("raw_path") or b"") + len(scope["query_string"]) > MOST_ADDRESS:
            return 414, "refused: the address is too long"
        sizes = _all(headers, b"content-length")
        if sizes and not (sizes[0].isdigit() and len(sizes[0]) < 12 and int(sizes[0]) <= MOST_BODY):
            return 413, "refused: the request is too large"
        token, slash, _ = scope["path"].lstrip("/").partition("/")
        if not slash or not hmac.compare_digest(token.encode("utf-8", "replace"), self.token):
            return 403, "refused: the address lacks its token; use the one that lapwright printed"
        return None


def _all(headers: Iterable[tuple[bytes, bytes]], name: bytes) -> list[bytes]:
    return [value for key, value in headers if key.lower() == name]


def _bounded(receive: Receive) -> Receive:
    """Return a receiver that raises ``TooLarge`` once a body grows too large, whatever its head said."""
    size = 0

    async def receiving() -> Message:
        nonlocal size
        message = await receive()
        size += len(message.get("body", b""))
        if size > MOST_BODY:
            raise TooLarge
        return message

    return receiving


async def _refuse(send: Send, status: int, words: str) -> None:
    body = (words + "\n").encode()
    await send({"type": "http.response.start", "status": status, "headers": [
        (b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode()), *HEADERS]})
    await send({"type": "http.response.body", "body": body})
