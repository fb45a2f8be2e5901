"""The spread of a case as text for a terminal."""

from cases.monte_carlo.spread import Distribution, Spread


def spread_text(found: Spread) -> str:
    """Lines of a spread, rounded for reading."""
    pair = f"lower {found.lower_deg:+.2f} deg"
    if found.upper_deg is not None:
        pair = f"upper {found.upper_deg:+.2f}, {pair}"
    lines = [
        f"{found.case}: {found.necks} necks, seed {found.seed}; fixed pair {pair} "
        f"(from stock, nearest to the case's offset of {found.case_offset_deg:+.3f} deg)",
        f"{'':24}{'median':>9}{'90 % of necks':>22}",
        _band("offset needed", "deg", found.offset_deg),
        _band("residual kink", "deg", found.residual_kink_deg),
        _band("tongue gap", "mm", found.tongue_gap_mm),
        _band("action error", "mm", found.action_error_mm),
        "",
        f"{'right first time':36}{'true':>8}{'measured':>14}",
    ]
    lines += [
        f"  {one.name:34}{100.0 * one.truth:6.1f} %{100.0 * one.measured:12.1f} %"
        f"   (+- {196.0 * one.error:.1f} sampling error, {one.guitars} necks)"
        for one in found.rates
    ]
    trust = found.trust
    lines += [
        "",
        f"solved with the full model: {found.in_full} of {found.necks}; no equilibrium, counted as wrong: "
        f"{found.unsolved}",
        f"reduced model on {trust.guitars} held-out necks: largest error {trust.largest_error_deg:.5f} deg, "
        f"{100.0 * trust.share_of_limit:.0f} % of the limit; error estimate covers {trust.covered} of them",
    ]
    if not trust.passed:
        lines.append(
            "warning: the reduced model misses its accuracy limit for this case; the rates are rough"
        )
    return "\n".join(lines)


def _band(name: str, unit: str, band: Distribution) -> str:
    return f"  {name + ' [' + unit + ']':22}{band.median:+9.3f}{band.low:+12.3f} to {band.high:+.3f}"
