"""How far a search is, for whoever listens; a search that nobody listens to tells nobody."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

Listener = Callable[[int, int, float], None]
_listener: ContextVar[Listener | None] = ContextVar("listener", default=None)


@contextmanager
def listen(to: Listener) -> Iterator[None]:
    """Call ``to`` with (routes proven, nodes expanded, bound on the rest) at every pause within."""
    token = _listener.set(to)
    try:
        yield
    finally:
        _listener.reset(token)


def tell(routes: int, nodes: int, bound: float) -> None:
    """Say how far the search is."""
    listener = _listener.get()
    if listener is not None:
        listener(routes, nodes, bound)
