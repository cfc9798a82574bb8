"""What a connected browser may ask of the server: a short typed list, and nothing else.

No name of the state is written by a browser. What a person looks at (run, tab, units ...) never
leaves the browser; what all of them share is written by the server alone. So a client changes
something only by a call of ``CALLS``, whose arguments are checked here and whose values are then
read by the rules of the model file. A client that writes a shared name all the same is not heard,
and gets the true value back.
"""

from __future__ import annotations

import inspect
import logging
import math
from collections.abc import Callable, Mapping
from typing import Any

from route3d.units import SYSTEMS

LONGEST = 200
"""Letters of a text that is typed into a field; no figure and no name needs more."""

_MOST_RUNS = 10_000
_LIFE = ("client_connected", "client_mounted", "client_unmounted", "client_exited")
_TOPIC = "trame.state.topic"

Check = Callable[[object], bool]


def _run(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < _MOST_RUNS


def _text(value: object) -> bool:
    return isinstance(value, str) and len(value) <= LONGEST and value.isprintable()


def _units(value: object) -> bool:
    return isinstance(value, str) and value in SYSTEMS


def _station(value: object) -> bool:
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return number and math.isfinite(value) and abs(value) < 1e9  # type: ignore[arg-type]


def _flag(value: object) -> bool:
    return isinstance(value, bool)


CALLS: Mapping[str, tuple[Check, ...]] = {
    "edit": (_run, _text, _text, _units),
    "reset": (_run,),
    "read": (_run, _station, _units),
    "unroll": (_run, _units, _flag),
    "open": (_run,),
}
"""The calls of the page and what each argument has to be."""

REFUSED = "This cannot be done from the page."


def allowed(name: object, args: object, kwargs: object = None) -> bool:
    """True for a call of the list with as many arguments as it takes, each of its kind."""
    if not isinstance(name, str) or name not in CALLS or not isinstance(args, list) or kwargs:
        return False
    checks = CALLS[name]
    return len(args) == len(checks) and all(c(a) for c, a in zip(checks, args, strict=True))


def confine(server: Any, web: Any) -> None:
    """Leave a client of trame's server ``web`` nothing but the calls of the page.

    trame would let every client write every name, the template of the page among them, and wslink
    would let it end the server.
    """
    for handler in web._ws_handlers:  # wslink has no public way to its methods
        handler.functionMap = _methods(server, web, handler.getServerProtocol())


def _methods(server: Any, web: Any, protocol: Any) -> dict[str, tuple[Any, Any]]:
    """What a client may call by its name, each with the object wslink passes to it first."""

    async def call(_: Any, name: object = "", args: Any = (), kwargs: object = None) -> Any:
        if not allowed(name, args, kwargs):
            return REFUSED
        with server.state:
            result = server.controller.trigger_fn(name)(*args)
            return await result if inspect.isawaitable(result) else result

    def push_back(_: Any, changes: object = None) -> None:
        true = {key: server.state[key] for key in _written(server, changes)}
        if true:
            protocol.publish(_TOPIC, true, client_id=web.last_active_client_id)

    def life(_: Any, name: object = "") -> None:
        if name in _LIFE and (told := server.controller[f"on_{name}"]).exists():
            told()

    def error(_: Any, message: object = "") -> None:
        logging.getLogger(__name__).error("error in the page: %.500r", message)

    def state(_: Any) -> Any:
        return protocol.get_server_state()

    own = {
        "trame.state.get": state,
        "trame.state.update": push_back,
        "trame.trigger": call,
        "trame.lifecycle.update": life,
        "trame.error.client": error,
    }
    return {uri: (protocol, method) for uri, method in own.items()}


def _written(server: Any, changes: object) -> list[str]:
    """The names of the shared state that a message would have changed."""
    if not isinstance(changes, list):
        return []
    private = server.state["trame__client_only"] or ()
    keys = [c.get("key") for c in changes if isinstance(c, dict)]
    return [k for k in keys if isinstance(k, str) and k not in private and server.state.has(k)]
