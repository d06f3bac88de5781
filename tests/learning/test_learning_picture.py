import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from simulated_yard import DEFAULT, Yard, starts, true_ripens

from dawnbrew.learning.fit import Outcome, learn_ripening
from dawnbrew.learning.picture import picture

SVG = "{http://www.w3.org/2000/svg}"


def season(count=12):
    rng = np.random.default_rng(4)
    yard = Yard(true_ripens())
    seen = [yard.batch(n, at, rng)[0] for n, at in enumerate(starts(count, rng))]
    return learn_ripening(seen, DEFAULT, recipe="weekly <b>", vessel="drum")


def drawn(*learned, units="metric"):
    return ElementTree.fromstring(picture(learned, units))


def test_each_batch_stands_in_both_panels_with_its_default():
    one = season()
    root = drawn(one)
    titles = [title.text for title in root.iter(f"{SVG}title")]
    assert sum(text.startswith("batch-3:") for text in titles) == 2
    dots = list(root.iter(f"{SVG}circle"))
    # seen and default on the left, seen on the right, and the two of the key
    assert len(dots) == 3 * len(one.outcomes) + 2
    assert sum(dot.get("fill") == "white" for dot in dots) == len(one.outcomes) + 1


def test_a_batch_as_predicted_lies_on_the_line_and_a_slow_one_above_it():
    one = season()
    made = [Outcome("even", 15, 70, 60, 59, 61, 0.0), Outcome("slow", 18, 70, 60, 79, 81, 0.0)]
    root = drawn(replace(one, outcomes=tuple(made)))
    groups = list(root.iter(f"{SVG}g"))
    even, slow, even_off, slow_off = (float(group.find(f"{SVG}circle").get("cy")) for group in groups)
    line = next(line for line in root.iter(f"{SVG}line") if line.get("stroke-dasharray"))
    x, y = (float(groups[0].find(f"{SVG}circle").get(name)) for name in ("cx", "cy"))
    x1, y1, x2, y2 = (float(line.get(name)) for name in ("x1", "y1", "x2", "y2"))
    assert y == pytest.approx(y1 + (x - x1) / (x2 - x1) * (y2 - y1), abs=0.2)
    assert slow < even
    assert slow_off < even_off


def test_all_of_it_lies_inside_and_is_black_on_white():
    text = picture([season(), season(3)], "us")
    root = ElementTree.fromstring(text)
    width, height = float(root.get("width")), float(root.get("height"))
    for dot in root.iter(f"{SVG}circle"):
        assert 0 < float(dot.get("cx")) < width
        assert 0 < float(dot.get("cy")) < height
    assert set(re.findall(r'(?:fill|stroke)="(\w+)"', text)) <= {"black", "white", "none"}
    assert "weekly &lt;b&gt; in drum, 12 batches" in text
    assert "mean of the liquid, °F" in text


def test_a_batch_whose_looks_leave_one_end_open_is_drawn_to_the_edge():
    root = drawn(replace(season(), outcomes=(Outcome("open", 15, 70, 60, 50, None, 0.0),)))
    bar = next(root.iter(f"{SVG}g")).find(f"{SVG}line")
    frame = next(rect for rect in root.iter(f"{SVG}rect") if rect.get("fill") == "none")
    assert float(bar.get("y2")) == pytest.approx(float(frame.get("y")), abs=0.1)


def test_batches_that_are_all_near_one_value_are_spread_over_the_panel():
    near = tuple(Outcome(f"b{n}", 18, 44 + n / 2, 41 + n / 2, 20 + 10 * n, None, 0.0) for n in range(6))
    root = drawn(replace(season(), outcomes=near))
    dots = [float(group.find(f"{SVG}circle").get("cx")) for group in root.iter(f"{SVG}g")][: len(near)]
    frame = next(rect for rect in root.iter(f"{SVG}rect") if rect.get("fill") == "none")
    assert max(dots) - min(dots) > float(frame.get("width")) / 4


def test_warm_batches_are_no_heap_beside_a_cold_one():
    hours = (36, 44, 52, 240)
    made = [Outcome(f"b{n}", 18, h, h, h, h, 0.0) for n, h in enumerate(hours)]
    groups = list(drawn(replace(season(), outcomes=tuple(made))).iter(f"{SVG}g"))[: len(made)]
    x = [float(group.find(f"{SVG}circle").get("cx")) for group in groups]
    assert (x[2] - x[0]) / (x[3] - x[0]) > 0.15  # 0.08 on an even scale
    texts = {text.text for text in drawn(replace(season(), outcomes=tuple(made))).iter(f"{SVG}text")}
    assert {"50", "100", "200"} <= texts


def test_each_panel_has_its_words_under_itself_and_none_between():
    root = drawn(season())
    left, right = (rect for rect in root.iter(f"{SVG}rect") if rect.get("fill") == "none")
    words = {text.text: text for text in root.iter(f"{SVG}text")}
    for frame, name in ((left, "hours predicted"), (right, "mean of the liquid, °C")):
        assert words[name].get("text-anchor") == "end"
        assert float(words[name].get("x")) == float(frame.get("x")) + float(frame.get("width"))
        assert float(words[name].get("y")) > float(frame.get("y")) + float(frame.get("height"))


def test_without_batches_there_is_an_empty_picture():
    root = drawn(learn_ripening((), DEFAULT, recipe="weekly", vessel="drum"))
    assert list(root.iter(f"{SVG}circle")) == []
