"""Limits of set-up, bridge, body, targets and shim stock."""

from collections.abc import Iterator

from cases.casefile.defaults import FLAT_POCKET
from cases.casefile.errors import Problem
from cases.casefile.key_values import Values
from cases.casefile.limits.bounds import at_least, at_most
from cases.casefile.wrong_value import outside


def _setup(values: Values) -> Iterator[Problem]:
    fixed, given = values.text("setup.mode") == "saddle-fixed", values.given("setup.saddle_height_mm")
    if fixed and not given:
        yield Problem(
            "setup.saddle_height_mm",
            "",
            "this key is missing",
            "2 to 40 mm",
            'add it, or set mode = "action"',
        )
    if given and not fixed:
        height = values.number("setup.saddle_height_mm")
        yield Problem(
            "setup.saddle_height_mm",
            f"{height:g}",
            "the saddle follows from the action",
            'only with mode = "saddle-fixed"',
            "take it away or change setup.mode",
        )


def _saddle(values: Values) -> Iterator[Problem]:
    lowest, highest = values.number("bridge.saddle_lowest_mm"), values.number("bridge.saddle_highest_mm")
    yield from at_least(values, "bridge.saddle_highest_mm", lowest + 0.1, because=f"the lowest is {lowest:g}")
    yield from at_least(
        values, "bridge.saddle_projection_mm", lowest, because=f"the lowest usable is {lowest:g}"
    )
    yield from at_most(
        values, "bridge.saddle_projection_mm", highest, because=f"the highest usable is {highest:g}"
    )


def _either(values: Values) -> Iterator[Problem]:
    for first, second in (
        ("body.stiffness_n_m_per_rad", "body.straightedge_drop_mm"),
        ("targets.kink_deg", "targets.tongue_gap_mm"),
    ):
        if values.given(first) and values.given(second):
            yield Problem(
                second,
                f"{values.number(second):g}",
                f"{first} says the same",
                "one of the two",
                "take one away",
            )


def _pocket_targets(values: Values) -> Iterator[Problem]:
    if values.text("joint.kind") != FLAT_POCKET:
        return
    for key in ("targets.kink_deg", "targets.tongue_gap_mm"):
        if values.given(key):
            yield Problem(
                key,
                f"{values.number(key):g}",
                "a flat pocket has one shim, which sets the neck's pitch; the kink follows",
                "none",
                "take it away",
            )


def _stock_list(values: Values) -> Iterator[Problem]:
    angles = [angle for angle in values.entries("stock.list_deg") if isinstance(angle, int | float)]
    if not 1 <= len(angles) <= 1000:
        wrong = f"there are {len(angles)} angles"
        yield Problem("stock.list_deg", "", wrong, "1 to 1000 angles", "list the angles you keep")
    for angle in angles:
        if not -5 <= angle <= 5:
            yield outside("stock.list_deg", float(angle), low=-5, high=5)


def stock_limits(values: Values) -> Iterator[Problem]:
    """Say what is wrong with a shim stock, of a case or of a workshop."""
    keys = ("stock.from_deg", "stock.to_deg", "stock.step_deg")
    count = sum(values.given(key) for key in keys)
    if values.given("stock.list_deg"):
        yield from _stock_list(values)
        if count:
            yield Problem(
                "stock.list_deg",
                "",
                "from_deg, to_deg or step_deg is there as well",
                "a list, or from, to and step",
                "take one away",
            )
        return
    if count < 3:
        missing = ", ".join(key for key in keys if not values.given(key))
        yield Problem(
            "stock",
            "",
            f"the shim stock is missing ({missing})",
            "from_deg, to_deg and step_deg, or list_deg",
            "add it here or in workshop.toml",
        )
        return
    low, step = values.number("stock.from_deg"), values.number("stock.step_deg")
    yield from at_least(values, "stock.to_deg", low, because=f"the smallest is {low:g}")
    if (values.number("stock.to_deg") - low) / step > 1000:
        yield Problem(
            "stock.step_deg",
            f"{step:g}",
            "this gives more than 1000 angles",
            "at most 1000 angles",
            "take a larger step",
        )


CHECKS = (
    _setup,
    _saddle,
    _either,
    _pocket_targets,
    stock_limits,
)
