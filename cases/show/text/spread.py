"""The spread of a case as text for a terminal."""

from collections.abc import Iterator

from cases.monte_carlo.spread import Distribution, Spread
from cases.show.text.depth import Depth, Line, screen

ROUGH = "The reduced model misses its accuracy limit for this case; the rates are rough."


def spread_text(found: Spread, *, depth: Depth = Depth.SHORT) -> str:
    """Text of a spread, rounded for reading."""
    lines = [_head(found), *(_full(found) if depth is Depth.FULL else _short(found))]
    return screen(lines, depth=depth, warnings=() if found.trust.passed else (ROUGH,))


def _head(found: Spread) -> Line:
    pair = f"lower {found.lower_deg:+.2f} deg"
    if found.upper_deg is not None:
        pair = f"upper {found.upper_deg:+.2f}, {pair}"
    return Line(
        f"{found.case}: {found.necks} necks, seed {found.seed}; fixed pair {pair} from stock",
        "So many necks, with woods, bolts, shims and friction drawn from their bands, all on the pair in "
        "stock nearest to the case's own offset.",
        hang=2,
    )


def _short(found: Spread) -> Iterator[Line]:
    offset = found.offset_deg
    yield Line(
        f"  offset needed  {offset.median:+z.2f} deg in the median, 90 % of necks"
        f" {offset.low:+z.2f} to {offset.high:+z.2f}",
        "The offset that each neck would need for itself.",
    )
    yield Line(
        f"  on this pair   tongue gap {_ends(found.tongue_gap_mm)} mm,"
        f" action {_ends(found.action_error_mm)} mm off, for 90 % of necks",
        "What you would find at pitch: rise of the last fret, and action minus the wanted action with the "
        "saddle as preset.",
    )
    action, gap = found.tolerance_mm
    yield Line(
        f"  right at the first attempt (action within {action:.2f} mm, tongue gap within {gap:.2f} mm):",
        "Share of necks that meet both tolerances; the lines below the first say what would raise it.",
    )
    for one in found.rates:
        yield Line(
            f"    {one.name:34}{100.0 * one.truth:4.0f} %   (+- {196.0 * one.error:.0f} sampling error)"
        )


def _ends(band: Distribution) -> str:
    return f"{band.low:+z.2f} to {band.high:+z.2f}"


def _full(found: Spread) -> Iterator[Line]:
    yield Line(f"the case's own offset is {found.case_offset_deg:+.3f} deg")
    yield Line(f"{'':24}{'median':>9}{'90 % of necks':>22}")
    yield _band("offset needed", "deg", found.offset_deg)
    yield _band("residual kink", "deg", found.residual_kink_deg)
    yield _band("tongue gap", "mm", found.tongue_gap_mm)
    yield _band("action error", "mm", found.action_error_mm)
    yield Line(f"\n{'right first time':36}{'true':>8}{'measured':>14}")
    for one in found.rates:
        yield Line(
            f"  {one.name:34}{100.0 * one.truth:6.1f} %{100.0 * one.measured:12.1f} %"
            f"   (+- {196.0 * one.error:.1f} sampling error, {one.guitars} necks)"
        )
    yield Line(
        f"\nsolved with the full model: {found.in_full} of {found.necks}; no equilibrium, counted as wrong: "
        f"{found.unsolved}"
    )
    trust = found.trust
    yield Line(
        f"reduced model on {trust.guitars} held-out necks: largest error {trust.largest_error_deg:.5f} deg, "
        f"{100.0 * trust.share_of_limit:.0f} % of the limit; error estimate covers {trust.covered} of them"
    )


def _band(name: str, unit: str, band: Distribution) -> Line:
    return Line(f"  {name + ' [' + unit + ']':22}{band.median:+9.3f}{band.low:+12.3f} to {band.high:+.3f}")
