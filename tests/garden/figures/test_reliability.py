"""The reliability plot: a point for each bin, said in words too, nothing outside its square."""

from xml.etree import ElementTree as ET

from garden.figures.reliability import ReliabilityLabels, ReliabilityPoint, reliability_plot

SVG = "{http://www.w3.org/2000/svg}"
LABELS = ReliabilityLabels(
    "Said", "Came true", "Perfect", "said %(expected)s, true %(observed)s of %(count)s"
)
POINTS = [ReliabilityPoint(0.1, 0.2, 0.05, 0.4, 30), ReliabilityPoint(0.9, 0.8, 0.7, 0.9, 12)]


def drawn(points=POINTS, **more):
    return ET.fromstring(reliability_plot(points, title="How true", labels=LABELS, **more))


def circles(svg):
    return [c for c in svg.iter(f"{SVG}circle") if c.get("class") == "fig-mark"]


def test_it_has_a_title_and_says_every_point_in_words():
    svg = drawn(key="k")
    assert svg.get("role") == "img"
    assert svg.find(f"{SVG}title").text == "How true"
    assert svg.find(f"{SVG}desc").text == "said 0.100, true 0.200 of 30; said 0.900, true 0.800 of 12"
    assert svg.get("aria-labelledby") == "fig-k-title"


def test_a_point_on_the_diagonal_stands_on_the_line_of_perfect_reliability():
    svg = drawn([ReliabilityPoint(0.5, 0.5, 0.4, 0.6, 9)])
    (line,) = [e for e in svg.iter(f"{SVG}line") if e.get("class") == "fig-perfect"]
    (mark,) = circles(svg)
    assert float(mark.get("cx")) == (float(line.get("x1")) + float(line.get("x2"))) / 2
    assert float(mark.get("cy")) == (float(line.get("y1")) + float(line.get("y2"))) / 2


def test_more_often_true_than_said_stands_above_the_diagonal():
    above, below = circles(drawn())
    assert float(above.get("cx")) < float(below.get("cx"))
    assert float(above.get("cy")) > float(below.get("cy"))
    (square,) = drawn().iter(f"{SVG}rect")
    for mark in circles(drawn([ReliabilityPoint(1.7, -3, -4, 9, 1)])):
        assert 0 <= float(mark.get("cx")) - float(square.get("x")) <= float(square.get("width"))
        assert 0 <= float(mark.get("cy")) - float(square.get("y")) <= float(square.get("height"))


def test_the_same_points_with_a_key_draw_the_same_text():
    first, again = (reliability_plot(POINTS, title="t", labels=LABELS, key="k") for _ in range(2))
    assert first == again


def test_no_points_draw_an_empty_square():
    assert not circles(drawn([]))
