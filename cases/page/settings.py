"""Settings of the page: address, access, mode."""

import ipaddress
from dataclasses import dataclass, field
from typing import Literal

from cases.casefile.workshop import Workshop
from cases.offset.calibration import Calibration
from materials.errors import InputError

Mode = Literal["open", "bench", "class"]

LEAST_TOKEN = 12
"""Shortest token allowed."""
LOOPBACK = ("127.0.0.1", "localhost", "::1")


@dataclass(frozen=True)
class PageSettings:
    """Settings of one running page. Raises `InputError` if they open it to others without a token.

    Attributes
    ----------
    mode : ``open`` has every part, ``bench`` only the bench with released cases, ``class`` no logbook.
    token : required once per browser if others can reach the port; None on loopback.
    log : URL of the logbook; None is the user's own.
    calibration : corrections learned by the shop, for the bench.
    """

    mode: Mode = "open"
    host: str = "127.0.0.1"
    port: int = 8571
    token: str | None = None
    log: str | None = None
    workshop: Workshop = field(default_factory=Workshop)
    calibration: Calibration | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.port <= 65535:
            raise InputError(f"--port {self.port}: 1 to 65535 are allowed; leave it out for 8571.")
        if self.host in ("", "*") or _is_any_address(self.host):
            raise InputError(
                f"--host {self.host or '(empty)'}: every network of this machine at once is not allowed; "
                "give the one address or name that the others use."
            )
        if self.token is not None and len(self.token) < LEAST_TOKEN:
            raise InputError(
                f"--token: at least {LEAST_TOKEN} characters are required; give a longer one, best in the "
                "variable NECKPRELOAD_TOKEN, which the list of processes does not show."
            )
        if self.host not in LOOPBACK and self.token is None:
            raise InputError(
                f"--host {self.host}: others on the network could open the page; give --token as well, "
                "or leave --host out for this machine alone."
            )

    @property
    def hosts(self) -> frozenset[str]:
        """Host names that the page answers to."""
        return frozenset({self.host, *LOOPBACK})


def check_port(settings: PageSettings) -> None:
    """Raise `InputError` if the port is taken."""
    import socket

    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.host, settings.port))
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            raise InputError(
                f"--port {settings.port}: it cannot be opened on {settings.host} ({reason}); give another "
                "port, or an address of this machine."
            ) from None


def page_mode(*, bench: bool, school: bool, log: str | None) -> Mode:
    """The mode by the command's options. Raises `InputError` if they contradict one another."""
    if bench and school:
        raise InputError("--bench and --class exclude one another; start two pages on two ports.")
    if school and log is not None:
        raise InputError("--class keeps no logbook and saves nothing; leave --log out, or leave --class out.")
    return "bench" if bench else "class" if school else "open"


def _is_any_address(host: str) -> bool:
    try:
        return ipaddress.ip_address(host.strip("[]")).is_unspecified
    except ValueError:
        return False
