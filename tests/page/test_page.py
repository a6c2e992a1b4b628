"""The page as a text, held against the model's own figures; then in a browser, started once.

There it asks nobody, complains of nothing, turns, hides, picks, sorts, fits a phone and prints. All in one
file, so that the page is made once.
"""

import base64
import io
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image
from shipped import shipped_coarse

from layout3d.cli import main
from layout3d.errors import LayoutError
from layout3d.page import library, sections
from layout3d.page.markup import lines_markup, table_markup, words
from layout3d.page.page import page_of, told_of
from layout3d.page.sections import Told
from layout3d.page.solids import STEPS, TOLERANCE, solids_of
from layout3d.report.cautions import BENCH, FLOOD, FLOOR, GLASS
from layout3d.report.figures import both_volumes
from layout3d.report.writing import Line, table
from layout3d.shop.cut_list import cut_list

LEDGE = Path(__file__).resolve().parents[2] / "scenes" / "ledge.yaml"
CHROMIUM = Path("/usr/bin/chromium")
# WebGL by software; and a browser that keeps still by itself
FLAGS = (
    *("--no-sandbox", "--disable-gpu", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"),
    *("--disable-quic", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync"),
)


@pytest.fixture(scope="module")
def told() -> Told:
    return told_of(shipped_coarse("ledge"))


@pytest.fixture(scope="module")
def page_text(told: Told) -> str:
    return page_of(told)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Give the browser; each start has a new folder of its own for the user's data."""
    if not CHROMIUM.exists():
        pytest.fail(f"{CHROMIUM} is missing: apt-get install chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS, headless=True)
        yield started
        started.close()


VOID = {"meta", "img", "input", "br", "hr", "link", "rect", "path", "circle"}


class Tags(HTMLParser):
    """Notes every tag with its attributes, and that each that is opened is closed in turn."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.open = [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def test_the_page_is_whole_well_formed_and_asks_for_nothing(page_text):
    page = Tags(page_text)
    assert page.open == []
    asked = [value for _, attrs in page.tags for name, value in attrs.items() if name in ("src", "href")]
    assert {value.partition(":")[0] if "#" not in value else "#" for value in asked} == {"data", "#"}
    names = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(names) == len(set(names))
    assert {value[1:] for value in asked if value[0] == "#"} <= set(names)
    for tag, attrs in page.tags:
        assert tag != "img" or attrs["alt"]
        assert tag != "canvas" or attrs["aria-label"]
        assert tag != "button" or attrs["type"] == "button"
    assert all(f"<caption>{words('')}</caption>" not in text for text in page_text.split("<table")[1:])


def test_it_tells_the_models_own_figures_and_every_caution(page_text, told):
    for text in both_volumes(told.figures["water_volume_net"]):
        assert text in page_text
    for finding in told.findings:
        assert finding.rule in page_text
    for piece in cut_list(told.model).pieces:
        assert f"{piece.length * 1000:.1f} mm" in page_text
        assert re.search(rf">{piece.mark}</th>", page_text)
    for step in told.order.steps:
        assert words(step.does) in page_text
    for row in told.shop.parts:
        assert words(row.size) in page_text
    for caution in (GLASS, FLOOR, FLOOD, BENCH):
        assert words(caution).split("`")[0] in page_text
    assert page_text.count("<svg") == len(told.sheets) == 8
    assert not re.search(r"(?i)\b(?:is|are) safe\b", page_text.split("<script")[0])


def test_the_same_scene_gives_the_same_page(told, monkeypatch):
    monkeypatch.setattr(
        sections, "chart_svg", lambda *_, **__: b""
    )  # they cost most, and are the same elsewhere
    assert page_of(told) == page_of(told)


def test_the_licence_of_the_library_stands_in_the_page(page_text):
    assert "Permission is hereby granted, free of charge" in page_text
    assert "SPDX-License-Identifier: MIT" in page_text


def test_drawn_bodies_are_the_models_to_the_stated_tolerance(told):
    facts = solids_of(told.model)
    content = base64.b64decode(facts["bytes"])
    drawn = {body["body"]: body for body in facts["bodies"]}
    assert set(drawn) == {body.name for body in told.model.bodies} | {"water"}
    for body in told.model.bodies:
        one = drawn[body.name]
        steps = np.frombuffer(content, "<u2", 3 * one["count"], one["points"]).reshape(-1, 3)
        points = np.array(one["low"]) + steps / STEPS * np.array(one["size"])
        bounds = np.array([points.min(axis=0), points.max(axis=0)])
        assert np.abs(bounds - body.solid.bounds).max() <= TOLERANCE + 2e-5  # and half a step
        faces = np.frombuffer(content, "<u4" if one["wide"] else "<u2", one["corners"], one["faces"])
        assert faces.max() < one["count"]
    corners = sum(body["corners"] for body in facts["bodies"])
    assert corners / 3 < 0.8 * sum(len(body.solid.faces) for body in told.model.bodies)


def test_texts_of_the_user_are_never_read_as_markup():
    row = table_markup(("a", "b"), [("<script>x</script>", "1 & 2")] * 3, 'a "caption" <b>')
    assert "<script>" not in row
    assert "<b>" not in row
    assert lines_markup([Line("</main><script>", style="head")]) == "<h3>&lt;/main&gt;&lt;script&gt;</h3>"


def test_lines_become_a_table_with_its_heading_and_figures_to_sort_by():
    rows = [("hole", "flow"), ("1", "1,200 mL/h"), ("2", "1 L/h"), ("3", "-")]
    made = lines_markup(
        [
            Line("Holes", style="head"),
            *table(rows, headed=True),
            Line("Caution", style="head"),
            Line("hot", 2),
        ]
    )
    assert made.startswith('<h3>Holes</h3>\n<div class="wide"')
    values = [float(value) for value in re.findall(r'<td class="figure" data-value="([^"]+)"', made)]
    assert values[0] == pytest.approx(1.2 * values[1])
    assert made.endswith('<aside class="caution">hot</aside>')


def test_a_missing_library_is_one_message_and_nothing_is_written(monkeypatch, tmp_path, capsys):
    monkeypatch.setattr(library, "DISTRIBUTION", "no-such-package-of-ours")
    library.webgl_library.cache_clear()
    to = tmp_path / "out" / "report.html"
    assert main(["report", "scenes/ledge.yaml", "--to", str(to)]) == 2
    library.webgl_library.cache_clear()
    told = capsys.readouterr().err
    assert "pip install 'layout3d[report]'" in told
    assert len(told.splitlines()) == 2
    assert list(tmp_path.iterdir()) == []


def test_what_the_other_commands_end_with_a_fault_for_is_one_here_too(told, monkeypatch):
    assert told.other_faults == ()
    error = LayoutError("no figure")
    assert replace(told, flow=error).other_faults == ("a flow can't be figured",)
    flooded = ("what fails puts water on the floor, or can't be figured",)
    assert replace(told, outages=error).other_faults == flooded
    stopped = SimpleNamespace(floor=True, why_not="")
    monkeypatch.setattr(sections, "stopped_without_circuit", lambda _: (stopped,))
    assert told.other_faults == flooded
    page = page_of(replace(told, outages=error))
    assert '<div class="fault"><dt>Findings</dt>' in page
    assert "not figured, so that nothing is known of it" in page


def test_a_scene_that_can_not_be_read_leaves_nothing(tmp_path, capsys):
    (tmp_path / "bad.yaml").write_text("format: 1\nunits: mm\n", encoding="utf-8")
    assert main(["report", str(tmp_path / "bad.yaml"), "--to", str(tmp_path / "out" / "report.html")]) == 2
    assert "bad.yaml" in capsys.readouterr().err
    assert [file.name for file in tmp_path.iterdir()] == ["bad.yaml"]


def test_a_file_that_is_no_page_is_refused(tmp_path, capsys):
    assert main(["report", "scenes/ledge.yaml", "--to", str(tmp_path / "report.pdf")]) == 2
    assert "a .html file" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_fault_of_the_scene_is_told_first_and_ends_with_1(tmp_path, capsys):
    to = tmp_path / "report.html"
    assert main(["report", "scenes/faulty/overlap.yaml", "--to", str(to)]) == 1
    text = to.read_text(encoding="utf-8")
    assert '<div class="fault"><dt>Findings</dt><dd>1 fault' in text
    assert re.search(r" MB, 1 fault\b", capsys.readouterr().out)
    facts = json.loads(re.search(r'id="facts">(.*?)</script>', text)[1])
    assert any(label == "fault" for rows in facts.values() for label, _ in rows)


# -- in a browser ---


@pytest.fixture(scope="module")
def page(browser, page_text, tmp_path_factory) -> Any:
    file = tmp_path_factory.mktemp("page") / "report.html"
    file.write_text(page_text, encoding="utf-8")
    shown = browser.new_context(viewport={"width": 900, "height": 700}, color_scheme="light").new_page()
    shown.asked, shown.complaints = [], []
    shown.on("request", lambda request: shown.asked.append(request.url))
    shown.on("console", lambda told: shown.complaints.append(told.text) if told.type == "error" else None)
    shown.on("pageerror", lambda error: shown.complaints.append(str(error)))
    shown.goto(file.as_uri())
    shown.wait_for_function("Number(document.querySelector('canvas').dataset.drawn) > 0")
    yield shown
    # nothing that the other tests did made it ask anybody or complain
    assert shown.asked == [file.as_uri()]
    assert shown.complaints == []


def picture(page: Any) -> np.ndarray:
    """Return the canvas as it stands once all that was asked for is drawn."""
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    content = page.locator("canvas").screenshot()
    whole = np.asarray(Image.open(io.BytesIO(content)).convert("RGB")).astype(int)
    return whole[12:-12, 12:-12]  # without the ring of what has the focus


def changed(before: np.ndarray, after: np.ndarray) -> float:
    """Return the share of pixels that differ by more than a shade."""
    return float((np.abs(before - after).max(axis=2) > 12).mean())


def test_the_model_is_drawn_and_turns(page):
    before = picture(page)
    assert changed(before, np.broadcast_to(before[2, 2], before.shape)) > 0.2  # there is more than a ground
    assert changed(before, picture(page)) < 0.001  # it stands still by itself
    box = page.locator("canvas").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 160, y, steps=4)
    page.mouse.up()
    assert changed(before, picture(page)) > 0.05
    page.get_by_role("button", name="Three-quarter").click()
    assert changed(before, picture(page)) < 0.001


def test_a_part_is_picked_by_a_click_told_and_hidden(page, told):
    page.get_by_role("button", name="Front", exact=True).click()
    before = picture(page)
    box = page.locator("canvas").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    part = page.locator("canvas").get_attribute("data-picked")
    assert part in {body.part for body in told.model.bodies}
    assert part in page.locator(".picked").inner_text()
    assert changed(before, picture(page)) > 0.005  # it is marked
    page.get_by_role("button", name=f"Hide {part}").click()
    hidden = picture(page)
    assert changed(before, hidden) > 0.005
    box_of_it = page.locator(f'[data-shown="{part}"]')
    assert not box_of_it.is_checked()
    box_of_it.check()
    assert changed(before, picture(page)) < 0.001
    page.get_by_role("button", name="Hide all").click()
    blank = picture(page)
    assert changed(blank, np.broadcast_to(blank[:, :1], blank.shape)) < 0.001
    page.get_by_role("button", name="Show all").click()
    assert changed(before, picture(page)) < 0.001


def test_a_finding_is_shown_where_it_is(page):
    before = picture(page)
    page.locator("[data-at]").first.click()
    assert changed(before, picture(page)) > 0.05
    assert page.locator("canvas").get_attribute("data-picked") == "branch"  # which the first finding is of


def test_columns_sort_by_figure_either_way(page, told):
    rows = page.locator("#parts-list tbody tr")
    heights = rows.evaluate_all("rows => rows.map(row => row.getBoundingClientRect().height)")
    assert max(heights) < 150  # a few lines of text: a taller row leaves half a screen blank beside it
    page.locator('nav a[href="#sheets"]').click()
    assert (
        abs(page.evaluate("document.getElementById('sheets').getBoundingClientRect().top")) < 100
    )  # at once
    amounts = page.locator("#parts-list th", has_text="amount")
    amounts.get_by_role("button").click()
    values = [
        float(value)
        for value in rows.locator("td:nth-child(4)").evaluate_all("all => all.map(e => e.dataset.value)")
    ]
    assert values == sorted(values)
    assert len(values) == len(told.shop.parts)
    assert amounts.get_attribute("aria-sort") == "ascending"
    amounts.get_by_role("button").click()
    assert float(rows.first.locator("td:nth-child(4)").get_attribute("data-value")) == max(values)
    items = page.locator("#parts-list th", has_text="item")
    items.get_by_role("button").click()
    names = rows.locator("td:nth-child(2)").all_inner_texts()
    assert names == sorted(names, key=str.casefold)
    assert amounts.get_attribute("aria-sort") is None


def test_it_fits_a_phone_and_prints_with_the_model(page):
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert page.pdf()[:5] == b"%PDF-"
    assert page.locator(".still").evaluate("image => image.naturalWidth") > 0
