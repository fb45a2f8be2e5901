"""Limits of set-up, bridge, body, targets and shim stock."""

from collections.abc import Iterator

from cases.casefile.defaults import in_pocket
from cases.casefile.errors import Problem
from cases.casefile.key_values import Values, total
from cases.casefile.limits.alternatives import one_group
from cases.casefile.limits.bounds import Check, at_least, at_most
from cases.casefile.wrong_value import outside

MOST_ANGLES = 1000
STOCK = ("stock.from_deg", "stock.to_deg", "stock.step_deg")


def _saddle_height(values: Values) -> Iterator[Problem]:
    path = "setup.saddle_height_mm"
    fixed, given = values.text("setup.mode") == "saddle-fixed", values.given(path)
    if fixed and not given:
        yield Problem(path, "", "this key is missing", "2 to 40 mm", 'add it, or set mode = "action"')
    if given and not fixed:
        allowed, remedy = 'only with mode = "saddle-fixed"', "remove it or change setup.mode"
        yield Problem(path, f"{values.number(path):g}", "the saddle follows from the action", allowed, remedy)


def _pocket_targets(values: Values) -> Iterator[Problem]:
    if not in_pocket(values):
        return
    wrong = "a flat pocket has one shim, which sets the neck's pitch; the kink follows"
    for key in ("targets.kink_deg", "targets.tongue_gap_mm"):
        if values.given(key):
            yield Problem(key, f"{values.number(key):g}", wrong, "none", "remove it")


def _stock_list(values: Values) -> Iterator[Problem]:
    path, allowed = "stock.list_deg", f"1 to {MOST_ANGLES} angles"
    angles = [angle for angle in values.entries(path) if isinstance(angle, int | float)]
    if not 1 <= len(angles) <= MOST_ANGLES:
        yield Problem(path, "", f"there are {len(angles)} angles", allowed, "list the angles you keep")
    for angle in angles:
        if not -5 <= angle <= 5:
            yield outside(path, float(angle), low=-5, high=5)


def stock_limits(values: Values) -> Iterator[Problem]:
    """Give what is wrong with the shim stock of a case or of a workshop."""
    if values.given("stock.list_deg"):
        yield from _stock_list(values)
        yield from one_group("stock")(values)
        return
    missing = ", ".join(key for key in STOCK if not values.given(key))
    if missing:
        wrong = f"the shim stock is missing ({missing})"
        allowed = "from_deg, to_deg and step_deg, or list_deg"
        yield Problem("stock", "", wrong, allowed, "add it here or in workshop.toml")
        return
    low, step = values.number("stock.from_deg"), values.number("stock.step_deg")
    yield from at_least("stock.to_deg", lambda _: low, "the smallest is {stock.from_deg}")(values)
    if (values.number("stock.to_deg") - low) / step > MOST_ANGLES:
        wrong, allowed = f"this gives more than {MOST_ANGLES} angles", f"at most {MOST_ANGLES} angles"
        yield Problem("stock.step_deg", f"{step:g}", wrong, allowed, "choose a larger step")


CHECKS: tuple[Check, ...] = (
    _saddle_height,
    at_least(
        "bridge.saddle_highest_mm",
        total("bridge.saddle_lowest_mm", plus=0.1),
        "the lowest is {bridge.saddle_lowest_mm}",
    ),
    at_least("bridge.saddle_projection_mm", total("bridge.saddle_lowest_mm"), "the lowest usable is {limit}"),
    at_most(
        "bridge.saddle_projection_mm", total("bridge.saddle_highest_mm"), "the highest usable is {limit}"
    ),
    *(one_group(table) for table in ("body", "targets", "heel")),
    _pocket_targets,
    stock_limits,
)
