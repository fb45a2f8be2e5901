"""The label: what is printed in the code is read back by a decoder, and the text says the same."""

import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from PIL import Image

from cases.bench.logbook.store import LogbookError
from cases.bench.shims.label import (
    HEIGHT_MM,
    WIDTH_MM,
    Label,
    code_of,
    draw_label,
    fit_label,
    label_text,
    save_label,
)
from tests.benches import logged
from tests.test_bench_logbook import NASTY_SERIALS

LINES = (
    "fourteen",
    "upper 0.10°, thick at nut",
    "lower -0.05°, thick at fretboard",
    "action expected 2.4 / 1.8 mm",
    "2025-05-04  attempt 1",
)


def decoded(image: Image.Image) -> str:
    (found,) = zxingcpp.read_barcodes(image.convert("RGB"))
    return str(found.text)


@pytest.mark.parametrize("serial", NASTY_SERIALS)
def test_a_scanner_reads_every_serial_to_the_letter(serial: str) -> None:
    matrix = np.array([list(row) for row in code_of(serial).matrix_iter(scale=8, border=4)], dtype=np.uint8)
    assert decoded(Image.fromarray(255 * (1 - matrix))) == serial


@pytest.mark.parametrize("serial", ["00042", "琴 $x_1$ <&>", "W" * 64])
def test_the_printed_label_is_read_at_its_real_size(tmp_path: Path, serial: str) -> None:
    missing = save_label(Label(serial, LINES), tmp_path / "label.png")
    assert missing in ((), ("琴",))
    with Image.open(tmp_path / "label.png") as image:
        assert image.size == pytest.approx((WIDTH_MM / 25.4 * 300, HEIGHT_MM / 25.4 * 300), abs=1)
        assert decoded(image) == serial
        square = np.asarray(image.convert("L"))[:, : image.height]
    # upright, with its quiet zone
    modules = np.array([list(row) for row in code_of(serial).matrix_iter(border=4)])
    centres = ((np.arange(len(modules)) + 0.5) * square.shape[0] / len(modules)).astype(int)
    assert ((square[np.ix_(centres, centres)] < 128) == modules.astype(bool)).all()
    drawn = label_text(Label(serial, LINES)).splitlines()
    assert drawn[-6:] == [serial, *LINES]
    assert len(drawn) > 12


@pytest.mark.parametrize("serial", ["00042", "$x_1$ <&>", "W" * 64, "W" * 10])
def test_no_text_leaves_the_label_or_covers_another(serial: str) -> None:
    figure = draw_label(Label(serial, LINES))
    figure.draw_without_rendering()
    code, text = figure.axes
    boxes = [one.get_window_extent() for one in text.texts]
    for box in boxes:
        assert all(figure.bbox.contains(*corner) for corner in box.corners())
        assert not box.overlaps(code.get_window_extent())
    assert not boxes[0].overlaps(boxes[1])


def test_the_svg_is_well_formed_and_holds_the_serial_as_text(tmp_path: Path) -> None:
    save_label(Label("$x_1$ <&>", LINES), tmp_path / "label.svg")
    root = ElementTree.parse(tmp_path / "label.svg").getroot()
    texts = ["".join(node.itertext()).strip() for node in root.iter("{http://www.w3.org/2000/svg}text")]
    assert "$x_1$ <&>" in texts
    assert LINES[1] in texts


def test_a_fits_label_says_what_went_in() -> None:
    bare = logged("00042", model="fourteen", upper_deg=-0.001)
    assert fit_label(bare) == Label(
        "00042", ("fourteen", "upper 0.00°, not tapered", LINES[2], "2025-05-04  attempt 1")
    )
    told = {"action_bass_mm": 2.44, "action_treble_mm": 1.8}
    assert fit_label(logged("1", predicted=told)).lines[2] == "action expected 2.4 / 1.8 mm"


def test_places_and_endings_that_are_refused(tmp_path: Path) -> None:
    label = Label("1", ())
    with pytest.raises(LogbookError, match=r"\.png or \.svg"):
        save_label(label, tmp_path / "label.pdf")
    with pytest.raises(LogbookError, match="cannot be written"):
        save_label(label, tmp_path / "none" / "label.png")
    save_label(label, tmp_path / "label.png")
    with pytest.raises(LogbookError, match="exists already"):
        save_label(label, tmp_path / "label.png")
