"""What a page is: its path, who may open it, how much may be sent to it. Access is decided from these rows alone."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

PAINTER, SUPERVISOR, EHS, MAINTENANCE = "painter", "supervisor", "ehs", "maintenance"
ROLES = (PAINTER, SUPERVISOR, EHS, MAINTENANCE)

ADMIN = "admin"  # not a role of its own: a supervisor who may also change accounts
NOBODY = "nobody"  # whoever isn't signed in
ONLOOKER = "onlooker"  # nobody, where the site leaves its booth page open

SIGNED_IN = frozenset(ROLES)
ANYBODY = SIGNED_IN | {NOBODY}
ONLOOKERS = SIGNED_IN | {ONLOOKER}
ADMINS = frozenset({ADMIN})

KIB = 1024

Endpoint = Callable[[Request], Awaitable[Response]]


@dataclass(frozen=True)
class Page:
    """One path and method. `body_limit` in bytes; `nav` is its word in the navigation, empty if it doesn't stand there.

    `token` lets a program in with an API token instead of a session, to read. `by_itself`: a script of ours asks for it again and
    again, so that asking says nothing about whether somebody is there.
    """

    path: str
    name: str
    endpoint: Endpoint
    methods: tuple[str, ...] = ("GET",)
    roles: frozenset[str] = SIGNED_IN
    body_limit: int = 64 * KIB
    nav: str = ""
    token: bool = False
    by_itself: bool = False


@dataclass(frozen=True)
class Person:
    """Who is signed in."""

    account: str
    name: str
    role: str
    badge: str | None = None
    admin: bool = False

    @property
    def by(self) -> str:
        """What the journal calls them: a painter's badge, as the scanner types it; everybody else's name."""
        return self.badge or self.name


def may_open(page: Page, person: Person | None, open_booth_page: bool) -> bool:
    """Does this page's row let this person in?"""
    if person is None:
        return NOBODY in page.roles or (open_booth_page and ONLOOKER in page.roles)
    return person.role in page.roles or (person.admin and ADMIN in page.roles)
