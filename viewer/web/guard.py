"""Access control: the rule for addresses, and the token required of every request.

There are two links, each with a token of its own: the engineer's, and the crew's, which only looks.
"""

from __future__ import annotations

import hmac
import ipaddress
from collections.abc import Awaitable, Callable, Mapping
from typing import TYPE_CHECKING, Literal
from urllib.parse import urlsplit

from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from aiohttp import web
    from aiohttp.typedefs import Middleware

Role = Literal["engineer", "crew"]
FOLDERS: Mapping[Role, str] = {"engineer": "/", "crew": "/crew/"}
"""Where the page of each link is."""

LEAST_TOKEN = 8
_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


def policy(address: str) -> str:
    """Content Security Policy of the page at ``host:port``: this server only, nothing inline."""
    return (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src data:; "
        # browsers differ in whether 'self' is the websocket too
        f"connect-src 'self' ws://{address}; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    )


def is_loopback(host: str) -> bool:
    """True for an address that only this machine reaches."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def check_host(host: str, token: str | None) -> None:
    """InputError for an address that other machines can reach, and for a weak token.

    The page is not made for untrusted clients, so no token opens it to other machines.
    """
    if token is not None and (len(token) < LEAST_TOKEN or not _plain(token)):
        raise InputError(
            Problem(
                f"the token must have at least {LEAST_TOKEN} letters, digits, - or _",
                "--token",
                "omit --token: one is generated",
            )
        )
    if not is_loopback(host):
        raise InputError(
            Problem(
                f"{host!r} is reachable from other machines; the page is for this machine only",
                "--host",
                "omit --host, or use 127.0.0.1, ::1 or localhost; for other people write a file "
                "with: route3d view MODEL --html FILE",
            )
        )


def _plain(token: str) -> bool:
    return token.isascii() and all(c.isalnum() or c in "-_" for c in token)


def role_of(path: str) -> Role:
    """Whose page a path belongs to."""
    return "crew" if path.startswith(FOLDERS["crew"]) else "engineer"


Handler = Callable[["web.Request"], Awaitable["web.StreamResponse"]]


def guard(tokens: Mapping[Role, str], host: str) -> Middleware:
    """The middleware that sees every request first, those of the websocket too.

    Pages of other origins are refused, so that a page elsewhere cannot drive this one; where only
    this machine is served, so are names for it that are not its own. A request has to carry the
    token of its folder as ``?token=`` once, and from then on in a cookie.
    """
    from aiohttp import web

    @web.middleware
    async def middleware(request: web.Request, handler: Handler) -> web.StreamResponse:
        try:
            here = _from_here(request, host)
        except ValueError:  # a Host or Origin that is no address
            raise web.HTTPBadRequest(text="Host or Origin is not an address.\n") from None
        if not here:
            raise web.HTTPForbidden(text="This page responds only to its own address.\n")
        role = role_of(request.path)
        token, given = tokens[role], request.query.get("token", "")
        if given and _same(given, token):
            return _welcome(request, role, token)
        if not _same(request.cookies.get(cookie_name(role, request), ""), token):
            raise web.HTTPUnauthorized(
                text="This page needs its token: open the address that ends in ?token=...\n"
            )
        if request.path.endswith("/ws") and not web.WebSocketResponse().can_prepare(request):
            raise web.HTTPBadRequest(text="This address is for the page's websocket.\n")
        response = await handler(request)
        if not response.prepared:
            response.headers.update(_HEADERS)
            response.headers["Content-Security-Policy"] = policy(request.host)
        return response

    return middleware


def cookie_name(role: Role, request: web.Request) -> str:
    """The cookie of a token: a browser keeps one set for all ports of a machine."""
    return f"route3d_{role}_{urlsplit(f'//{request.host}').port or 80}"


def _same(given: str, token: str) -> bool:
    """Compared in constant time, so that no part of the token can be guessed by its delay."""
    return hmac.compare_digest(given.encode(errors="surrogatepass"), token.encode())


def _welcome(request: web.Request, role: Role, token: str) -> web.StreamResponse:
    """The token goes into a cookie no script can read, and out of the address."""
    from aiohttp import web

    response = web.HTTPFound(FOLDERS[role], headers=_HEADERS)
    response.set_cookie(
        cookie_name(role, request), token, httponly=True, samesite="Strict", path=FOLDERS[role]
    )
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
