"""The pictures show the balance: what flows in flows out, and no sign is colour alone."""

import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from canewright.report.pictures.brix_curve import brix_curve
from canewright.report.pictures.flow import flow_picture
from canewright.report.pictures.flow_graph import SHOWN, THIN, graph
from canewright.report.pictures.flow_layout import layout


@pytest.fixture(scope="module")
def found(account):
    return graph(account)


def test_each_place_gives_what_it_takes(found, account):
    # Left out of the picture are bands thinner than THIN and losses smaller than SHOWN, and
    # the cane yard takes its cane from outside.
    for place, here in enumerate(found.places):
        into = sum(band.percent for band in found.bands if band.target == place)
        out = sum(band.percent for band in found.bands if band.source == place)
        lost = sum(loss.percent for loss in here.losses)
        into += 100.0 if "cane yard" in here.stations else 0.0
        allowed = THIN * found.thin + SHOWN * 10
        assert into == pytest.approx(out + lost, abs=allowed), here.label


def test_all_sucrose_of_the_ledger_leaves_in_the_picture(found, account):
    ledger = account.ledgers["sucrose"]
    left = {}
    for place in found.places:
        for loss in place.losses:
            left[loss.name] = left.get(loss.name, 0.0) + loss.percent
    for row in ledger.leaving:
        if row.name in left and row.kind in ("product", "leaves", "lost"):
            # Parts below SHOWN are not written, ten of them at most.
            assert left[row.name] == pytest.approx(row.percent.value, abs=10 * SHOWN)
    undetermined = next(row for row in ledger.leaving if row.kind == "undetermined")
    # Two sums of the same numbers in another order.
    assert left["undetermined"] == pytest.approx(undetermined.percent.value, abs=1e-6)
    molasses = next(row for row in ledger.leaving if row.name == "final molasses")
    assert left["final molasses"] == pytest.approx(molasses.percent.value, abs=1e-6)


def test_boxes_do_not_overlap_and_bands_end_at_their_boxes(found):
    placed = layout(found)
    for one in placed.boxes:
        for other in placed.boxes:
            if one is not other and one.row == other.row:
                assert one.column != other.column
    by_place = {box.place: box for box in placed.boxes}
    rows = sorted({(box.row, box.y, box.height) for box in placed.boxes})
    for (_row, y, height), (_next, below, _height) in pairwise(rows):
        assert y + height < below
    for route in placed.routes:
        source, target = by_place[route.band.source], by_place[route.band.target]
        for (x, y), box in ((route.points[0], source), (route.points[-1], target)):
            assert box.x - 1 <= x <= box.x + 119
            assert box.y - 1 <= y <= box.y + box.height + 1


def test_widths_go_by_sucrose(found):
    placed = layout(found)
    largest = max(placed.routes, key=lambda route: route.band.percent)
    for route in placed.routes:
        share = route.band.percent / largest.band.percent
        # A hair line stays a hair line: 1.2 of 30 units.
        assert route.width == pytest.approx(max(share * largest.width, 1.2), rel=1e-9)


@pytest.mark.parametrize("picture", [flow_picture, brix_curve])
def test_a_picture_is_xml_in_grey_with_words(account, picture):
    made = picture(account)
    root = ElementTree.fromstring(made.svg)
    assert root.tag.endswith("svg")
    assert made.words
    for colour in re.findall(r'(?:fill|stroke)="(#[0-9a-fA-F]{3,6})"', made.svg):
        digits = colour[1:]
        step = len(digits) // 3
        assert len({digits[k : k + step] for k in range(0, len(digits), step)}) == 1, colour


def test_the_brix_curve_falls_from_mill_to_mill(account):
    numbers = [float(text) for text in re.findall(r" (\d+\.\d+)", brix_curve(account).words)]
    mills = [p for p in account.estimate.model.flowsheet.placed if p.cls.kind == "mill"]
    assert len(numbers) == len(mills)
    assert numbers == sorted(numbers, reverse=True)
