"""The answer as text for a terminal: what it is, the angle, what to set, what to measure, what to mind."""

from collections.abc import Iterator

from cases.offset.answer import Answer
from cases.offset.warnings import CAUTIONS, OFFSET_WITHOUT_BODY
from cases.show.text.answer_details import details, edges_text
from cases.show.text.depth import NEXT, Depth, Line, screen, warned
from cases.studies.uncertainty import ToMeasure, would_narrow
from materials.counted import counted
from materials.own_wood import NOT_IN_TABLE

MEASUREMENTS = 2
POUND_FORCE = 4.4482216
NO_MEASUREMENT = "No published measurement of heel rotation under strings was found"


def report(answer: Answer, *, depth: Depth = Depth.SHORT, case: str = "") -> str:
    """Text of an answer; ``case`` is how the commands to type name the case, by default by its name."""
    full = depth is Depth.FULL
    found = _offset(answer, full) if answer.pocket is None else _taper(answer, full)
    stock = _pair(answer, case or answer.case) if answer.pocket is None else _shim(answer)
    lines = [*_head(answer), *found, *stock, *_setting(answer, full), *_surer(answer)]
    if full:
        lines += [Line(text) for text in details(answer)]
    said = {*answer.unusual, *(() if full else (OFFSET_WITHOUT_BODY,))}
    warnings = [text for text in answer.warnings if text not in said]
    return screen(lines, depth=depth, warnings=warnings, end=_end(answer, full))


def _head(answer: Answer) -> Iterator[Line]:
    yield Line(
        f"{answer.case}: {head_text(answer)}",
        "The instrument that was computed: check that it is yours.",
        hang=2,
    )
    yield Line(
        f"  strings        {answer.strings.set} ({' '.join(answer.strings.gauges)}), {tension_text(answer)}",
        "The sum of the string tensions is the load that bends neck and heel.",
    )
    for text in answer.standins:
        if NOT_IN_TABLE in text:
            yield Line(
                f"  borrowed data  {text}", "Your own wood: what you did not give is another's.", hang=17
            )
    yield from warned(answer.unusual, word="UNUSUAL INPUT")


def head_text(answer: Answer) -> str:
    """The instrument in a few words."""
    instrument = answer.instrument
    return (
        f"body joint at fret {instrument.body_joint_fret}, scale {instrument.scale_mm:g} mm;"
        f" {instrument.neck_wood} neck, {instrument.fretboard_wood} fretboard"
    )


def tension_text(answer: Answer) -> str:
    """Total string tension in newtons and pounds-force."""
    total = answer.strings.total_tension_n
    return f"{total:.0f} N ({total / POUND_FORCE:.0f} lbf) total"


def _offset(answer: Answer, full: bool) -> Iterator[Line]:
    yield Line(
        f"\n  PRELOAD OFFSET {answer.offset_deg:+z.{3 if full else 2}f} deg (lower minus upper shim)",
        "With this difference of the two shim angles the fretboard runs straight across the body joint at "
        "pitch; a negative offset leans the neck back.",
    )
    yield _bands(answer)
    if full:
        yield Line(
            f"{NEXT}mesh error {answer.checks.mesh_error_deg:.3f};"
            f" linear estimate {answer.preload_offset_linear_deg:+.3f}"
        )
        yield Line(
            f"{NEXT}valid at this relief; 0.1 mm more moves the offset by"
            f" {(answer.offset_per_relief_deg_mm or 0.0) * 0.1:+.3f} deg"
        )
        yield Line(
            f"{NEXT}{answer.taper_mm:+.2f} mm over the lower shim's length,"
            f" {answer.paper_sheets:.1f} sheets of paper"
        )
    if answer.anchored_offset_deg is not None:
        yield Line(
            f"{NEXT}model alone; anchored to your number: {answer.anchored_offset_deg:+.2f} deg",
            "The offset that you know from your own guitar plus the computed change to this one.",
        )


def _bands(answer: Answer) -> Line:
    return Line(
        f"{NEXT}{bands_text(answer)}",
        "Woods, bolts, torque, shim layers and bedding differ from neck to neck, which gives the first band: "
        "its 5, 50 and 95 % points. Friction in the joint is poorly known and has a band of its own.",
    )


def bands_text(answer: Answer) -> str:
    """The band of necks and the friction band of offset or taper."""
    pocket = answer.pocket
    low, high = (pocket.taper_band_deg if pocket else answer.preload_offset_band_deg) or (0.0, 0.0)
    median = (pocket.taper_median_deg if pocket else answer.preload_offset_median_deg) or 0.0
    friction = pocket.taper_friction_band_deg if pocket else answer.preload_offset_friction_band_deg
    below, above = friction or (0.0, 0.0)
    return (
        f"90 % of necks {low:+z.2f} to {high:+z.2f}, median {median:+z.2f};"
        f" friction band {below:+z.2f} to {above:+z.2f} deg"
    )


def _pair(answer: Answer, case: str) -> Iterator[Line]:
    """The pair in stock, and the command that chooses among the pairs."""
    upper, lower = (shim.angle_deg for shim in answer.shims)
    if answer.preload_offset_on_stock_deg is None:
        yield Line(
            f"  from stock     no pair; exact angles upper {upper:+z.2f}, lower {lower:+z.2f} deg",
            "None of your shims make a pair within half a step of this offset.",
        )
        return
    yield Line(
        f"  from stock     upper {upper:+z.2f}, lower {lower:+z.2f} deg; rounding leaves a tongue gap of"
        f" {answer.residual_tongue_gap_mm or 0.0:+z.2f} mm",
        "The nearest pair of your shims, if the pocket is cut at exactly the wanted angle.",
    )
    yield Line(
        f"{NEXT}the reading of the bare pocket (1.8 mm is an example) chooses among "
        f"{counted(len(answer.pairs), 'pair')}:\n{NEXT}neckpreload pair {case} --reading 1.8mm",
        "Every pair has the same offset, but each leans the whole neck by another angle: lay a gauge in the "
        "pocket, measure its height over the top at the saddle, and give that height.",
    )


def _taper(answer: Answer, full: bool) -> Iterator[Line]:
    pocket = answer.pocket
    assert pocket is not None
    yield Line(
        f"\n  TAPER          {pocket.taper_deg:+z.{3 if full else 2}f} deg of the pocket shim"
        " (positive: thick end at the nut)",
        "With this angle of the shim under the heel the strings pass the saddle at the height it needs.",
    )
    yield _bands(answer)
    if full:
        yield Line(f"{NEXT}mesh error {answer.checks.mesh_error_deg:.3f}")
        yield Line(
            f"{NEXT}{answer.taper_mm:+.2f} mm over the pocket's length, {answer.paper_sheets:.1f} sheets of"
            f" paper; 1 deg of shim turns the neck by {pocket.pitch_per_shim:.2f} deg"
        )
        yield Line(f"{NEXT}strings {pocket.saddle_wanted_mm:.2f} mm above the glue line at the saddle")


def _shim(answer: Answer) -> Iterator[Line]:
    """The shim in stock of a flat pocket, and what it leaves."""
    assert answer.pocket is not None
    (shim,), error = answer.shims, answer.pocket.action_error_mm
    where = "none near; cut " if error is None else ""
    left = "" if error is None else f"; action {error:+z.2f} mm off until the saddle is set"
    yield Line(
        f"  from stock     {where}{shim.angle_deg:+z.2f} deg: {edges_text(shim)}{left}",
        "The nearest of your shims, its thickness at both ends, and what the saddle has to make up for.",
    )
    kink, gap = answer.states["strung"].kink_deg, answer.states["strung"].tongue_gap_mm
    yield Line(
        f"  last frets     kink {kink:+z.2f} deg at pitch, {gap:+z.2f} mm at the last fret",
        "One shim sets the neck's angle only; this rise of the last frets over the line of the others stays.",
    )


def _setting(answer: Answer, full: bool) -> Iterator[Line]:
    relief, shims = answer.relief, "the shims can" if answer.pocket is None else "nor can one shim"
    yield Line(
        f"  relief         {relief.rod_slack_mm:.2f} mm with the rod slack, {relief.set_mm:.2f} mm as set",
        "Relief is the forward bow of the shaft, which the rod corrects; the answer is valid at the second "
        "figure.",
    )
    yield Line(
        f"  rod            {rod_text(answer)}",
        "The setting that gives this relief; the torque depends on friction at the rod's nut.",
    )
    yield Line(
        f"  heel stretch   {stretch_text(answer)}",
        f"How much the kink at the joint grows from bolted to pitch; the rod cannot correct it, {shims}.",
    )
    if full:
        yield Line(
            f"{NEXT}{answer.heel_stretch_deg:+.3f} deg, {answer.heel_stretch_rod_slack_deg:+.3f} with the rod"
            f" slack; the heel start turns by {answer.heel_rotation_deg:+.3f} against the tongue"
        )
    if full and answer.shim_transfer is not None:
        yield Line(f"  shim transfer  {answer.shim_transfer:.2f} deg of kink per degree of lower shim")


def stretch_text(answer: Answer) -> str:
    """The heel stretch in plain words, with its friction band."""
    way, where = (1.0, "up") if answer.heel_stretch_deg >= 0.0 else (-1.0, "down")
    least, most = sorted(way * end for end in answer.heel_stretch_friction_band_deg)
    return (
        f"the strings bend the joint {where} by {way * answer.heel_stretch_deg:.2f} deg"
        f" ({least:z.2f} to {most:z.2f} over the friction band)"
    )


def rod_text(answer: Answer) -> str:
    """The rod's setting in one line."""
    rod = answer.rod
    if rod.tension_n is None or rod.torque_n_m is None or rod.torque_band_n_m is None:
        return "none"
    size = f"{rod.tension_n:.0f} N" if rod.couple_n_m is None else f"{rod.couple_n_m:.2f} N·m couple"
    low, high = rod.torque_band_n_m
    return (
        f"{size}, {rod.torque_n_m:.2f} N·m at the nut ({low:.2f} to {high:.2f}),"
        f" about {rod.turns or 0.0:.2f} turns from slack"
    )


def _surer(answer: Answer) -> Iterator[Line]:
    """The measurements that would make the answer surest."""
    asked = "offset" if answer.pocket is None else "taper"
    for number, one in enumerate(would_narrow(answer)[:MEASUREMENTS]):
        yield Line(
            f"{NEXT if number else '  measure first  '}{how_text(one)} (+-{one.worth_deg:.2f} deg)",
            ""
            if number
            else f"So much of the {asked} stays in doubt until you measure this; "
            "`neckpreload sensitivity` ranks all inputs.",
        )


def how_text(one: ToMeasure) -> str:
    """How to make a measurement; a key of the case is named."""
    return f"{one.name}: {one.how}" if "." in one.name else one.how


def calibrated_text(answer: Answer) -> str:
    """Whether the shop's own guitars stand behind the answer."""
    if answer.calibration_id is None:
        return "not calibrated: first pair only, then measure"
    return f"calibrated by {answer.calibration_id}"


def _end(answer: Answer, full: bool) -> Iterator[Line]:
    yield Line(
        f"  {calibrated_text(answer)}" + (f". {NO_MEASUREMENT}." if full else ""),
        f"{NO_MEASUREMENT}: read the tongue gap bolted up and at pitch, then run `calibrate`.",
    )
    yield from warned(CAUTIONS, word="CAUTION")
