"""Ways of working of a simulated workshop."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

OFTEN = 5
"""Guitars between two calibrations from the last ones."""


@dataclass(frozen=True)
class Way:
    """What a workshop measures before the strings go on.

    Attributes
    ----------
    name : for tables.
    program : whether it uses the program; otherwise a fixed offset.
    learns, tests_necks, uses_squares : whether it calibrates from its log, tests necks, uses both squares.
    dry_deg : error of the bolted kink, None without a dry check.
    reads_again : whether the joint is read again after a shim was changed.
    tuned_down : whether the kink is read with the strings tuned down too, with the same error.
    rule : whether the shaft line is read with a rule at the saddle, which finds a misread pocket.
    last : number of last guitars from which it calibrates, every `OFTEN` guitars; None for all so far, as
        often as the settings say.
    follows : whether it follows the last guitars (`learning.follow`): anew after each guitar, with what was
        learned as often as the settings say.
    gives_tests : whether following knows the tests of the necks.
    relief_mm : error of the relief as set, None for that of the settings.
    """

    name: str
    program: bool = True
    learns: bool = True
    tests_necks: bool = True
    uses_squares: bool = False
    dry_deg: float | None = None
    reads_again: bool = False
    tuned_down: bool = False
    rule: bool = False
    last: int | None = None
    follows: bool = False
    gives_tests: bool = True
    relief_mm: float | None = None


WAYS: Mapping[str, Way] = MappingProxyType(
    {
        "fixed": Way("fixed offset, without the program", program=False, learns=False, tests_necks=False),
        "model": Way("model only, nothing learned", learns=False, tests_necks=False),
        "log": Way("log only", tests_necks=False),
        "log+neck": Way("log and each neck tested"),
        "log+neck+squares": Way("the same, both squares used", uses_squares=True),
        "dry 0.02": Way("log, neck tested, joint read dry to 0.02 deg", dry_deg=0.02),
        "dry 0.01": Way("log, neck tested, joint read dry to 0.01 deg", dry_deg=0.01),
        "dry 0.005": Way("log, neck tested, joint read dry to 0.005 deg", dry_deg=0.005),
        "dry useless": Way("control: dry reading to 1 deg", dry_deg=1.0),
        "again 0.01": Way("dry to 0.01 deg, again after each change", dry_deg=0.01, reads_again=True),
        "rule 0.01": Way(
            "the same, and a rule at the saddle", dry_deg=0.01, reads_again=True, rule=True
        ),
        "down 0.01": Way(
            "the same, and tuned down, both to 0.01 deg",
            dry_deg=0.01, reads_again=True, rule=True, tuned_down=True,
        ),
        "down 0.005": Way(
            "the same, both to 0.005 deg", dry_deg=0.005, reads_again=True, rule=True, tuned_down=True
        ),
        "last": Way(
            "dry to 0.01 deg, again after each change, calibrated from the last 40 guitars",
            dry_deg=0.01, reads_again=True, last=40,
        ),
        "relief": Way(
            "dry to 0.01 deg, again after each change, relief set to 0.005 mm",
            dry_deg=0.01, reads_again=True, relief_mm=0.005,
        ),
        "follow blind": Way(
            "dry to 0.01 deg, again after each change, last guitars followed, tests of necks not given",
            dry_deg=0.01, reads_again=True, follows=True, gives_tests=False,
        ),
        "follow": Way(
            "dry to 0.01 deg, again after each change, last guitars followed",
            dry_deg=0.01, reads_again=True, follows=True,
        ),
        "follow+relief": Way(
            "the same, and relief set to 0.005 mm",
            dry_deg=0.01, reads_again=True, follows=True, relief_mm=0.005,
        ),
        "follow+relief down": Way(
            "the same, rule at the saddle, tuned down, both to 0.005 deg",
            dry_deg=0.005, reads_again=True, rule=True, tuned_down=True, follows=True, relief_mm=0.005,
        ),
    }
)  # fmt: skip
"""Ways of working, from the least to the most that is measured."""
