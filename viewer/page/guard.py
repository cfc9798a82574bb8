"""Who may connect: the rule for addresses, and the token asked of every request."""

from __future__ import annotations

import hmac
import ipaddress
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from aiohttp import web

COOKIE = "route3d_token"
LEAST_TOKEN = 8
# Everything comes from this server; Vue compiles the page's templates in the browser.
POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; "
    "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; "
    "worker-src 'self' blob:; connect-src 'self'; base-uri 'self'; form-action 'none'; "
    "frame-ancestors 'none'; object-src 'none'"
)
_HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
}


def is_loopback(host: str) -> bool:
    """True for an address that only this machine reaches."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def check_host(host: str, token: str | None) -> None:
    """InputError for an address that others reach, and for a weak token.

    The page is not made for clients that are not trusted, so that no token opens it to others.
    """
    if token is not None and (len(token) < LEAST_TOKEN or not _plain(token)):
        raise InputError(
            Problem(
                f"the token has to be at least {LEAST_TOKEN} letters, digits, - or _",
                "--token",
                'make one with: python3 -c "import secrets; print(secrets.token_urlsafe(16))"',
            )
        )
    if not is_loopback(host):
        raise InputError(
            Problem(
                f"{host!r} can be reached from other machines; the page is served to this one only",
                "--host",
                "omit --host, or use 127.0.0.1, ::1 or localhost; for other people write a file "
                "with: route3d view MODEL --html FILE",
            )
        )


def _plain(token: str) -> bool:
    return token.isascii() and all(c.isalnum() or c in "-_" for c in token)


Handler = Callable[["web.Request"], Awaitable["web.StreamResponse"]]


def guard(
    token: str | None, host: str
) -> Callable[[web.Request, Handler], Awaitable[web.StreamResponse]]:
    """The middleware that sees every request first, those of the websocket too.

    Pages of other origins are refused, so that a page elsewhere cannot drive this one; where only
    this machine is served, so are names for it that are not its own. With a token, a request has to
    carry it as ``?token=`` once, and from then on in a cookie.
    """
    from aiohttp import web

    @web.middleware
    async def middleware(request: web.Request, handler: Handler) -> web.StreamResponse:
        try:
            here = _from_here(request, host)
        except ValueError:  # a Host or Origin that is no address
            raise web.HTTPBadRequest(text="Host or Origin is not an address.\n") from None
        if not here:
            raise web.HTTPForbidden(text="This page answers only to its own address.\n")
        given = request.query.get("token", "")
        if token is not None:
            if given and _same(given, token):
                return _welcome(request, token)
            if not _same(request.cookies.get(COOKIE, ""), token):
                raise web.HTTPUnauthorized(
                    text="This page needs its token: open the address that ends in ?token=...\n"
                )
        if request.path == "/ws" and not web.WebSocketResponse().can_prepare(request):
            raise web.HTTPBadRequest(text="This address is for the page's websocket.\n")
        response = await handler(request)
        if not response.prepared:
            response.headers.update(_HEADERS)
        return response

    return middleware


def _same(given: str, token: str) -> bool:
    """Compared in constant time, so that no part of the token can be guessed by its delay."""
    return hmac.compare_digest(given.encode(errors="surrogatepass"), token.encode())


def _welcome(request: web.Request, token: str) -> web.StreamResponse:
    """The token goes into a cookie no script can read, and out of the address."""
    from aiohttp import web

    response = web.HTTPFound("/index.html")
    response.set_cookie(COOKIE, token, httponly=True, samesite="Strict", path="/")
    return response


def _from_here(request: web.Request, host: str) -> bool:
    """Whether a request was made to this server by its own page; ValueError where malformed."""
    if not request.host.isascii() or not request.host.isprintable():
        raise ValueError("not an address")
    parts = urlsplit(f"//{request.host}")
    named = parts.hostname or ""
    if (
        not named or "@" in parts.netloc or parts.netloc != request.host or parts.port == 0
    ):  # port: ValueError if none
        raise ValueError("not an address")
    if is_loopback(host) and not is_loopback(named):
        return False
    origin = request.headers.get("Origin")
    return origin is None or urlsplit(origin).netloc == request.host
