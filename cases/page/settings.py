"""How the page is served: where, to whom, and which of its rooms are open."""

import ipaddress
from dataclasses import dataclass, field
from typing import Literal

from cases.casefile.workshop import Workshop
from cases.offset.calibration import Calibration
from materials.errors import InputError

Mode = Literal["open", "bench", "class"]

LEAST_TOKEN = 12
"""Least length of a token; it is typed once a day and keeps everybody else in the building out."""
LOOPBACK = ("127.0.0.1", "localhost", "::1")


@dataclass(frozen=True)
class PageSettings:
    """Settings of one running page.

    Attributes
    ----------
    mode : ``open`` has every part, ``bench`` released cases and the bench only, ``class`` no logbook.
    host, port : where it listens.
    token : what a browser must show once where others can reach the port; None on loopback.
    log : URL of the logbook; None is the user's own.
    calibration : what a shop has learned, for the bench.
    """

    mode: Mode = "open"
    host: str = "127.0.0.1"
    port: int = 8571
    token: str | None = None
    log: str | None = None
    workshop: Workshop = field(default_factory=Workshop)
    calibration: Calibration | None = None

    @property
    def is_loopback(self) -> bool:
        """Whether only this machine can reach the page."""
        return self.host in LOOPBACK

    @property
    def hosts(self) -> frozenset[str]:
        """Names under which a browser may ask for the page."""
        return frozenset({self.host.lower(), *LOOPBACK})


def page_settings(
    *,
    host: str,
    port: int,
    token: str | None,
    log: str | None,
    bench: bool,
    school: bool,
    workshop: Workshop,
    calibration: Calibration | None = None,
) -> PageSettings:
    """Check how the page shall be served.

    Raises
    ------
    InputError
        For settings that contradict one another, or would open the page to others without a token.
    """
    if bench and school:
        raise InputError("--bench and --class exclude one another; start two pages on two ports.")
    if school and log is not None:
        raise InputError("--class keeps no logbook and saves nothing; leave --log out, or leave --class out.")
    if not 1 <= port <= 65535:
        raise InputError(f"--port {port}: 1 to 65535 are allowed; leave it out for 8571.")
    host = host.strip().lower()
    if not host or host == "*" or _is_any_address(host):
        raise InputError(
            f"--host {host or '(empty)'}: every network of this machine at once is not allowed; "
            "give the one address or name by which the others reach it."
        )
    settings = PageSettings(
        mode="bench" if bench else "class" if school else "open",
        host=host, port=port, token=token or None, log=log, workshop=workshop,
        calibration=calibration,
    )  # fmt: skip
    if settings.token is not None and len(settings.token) < LEAST_TOKEN:
        raise InputError(
            f"--token: at least {LEAST_TOKEN} characters are wanted; give a longer one, best by the "
            "variable NECKPRELOAD_TOKEN, which does not show in the list of processes."
        )
    if not settings.is_loopback and settings.token is None:
        raise InputError(
            f"--host {host}: others on the network could open the page; give --token as well, "
            "or leave --host out for this machine alone."
        )
    return settings


def _is_any_address(host: str) -> bool:
    try:
        return ipaddress.ip_address(host.strip("[]")).is_unspecified
    except ValueError:
        return False
