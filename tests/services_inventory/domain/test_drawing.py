"""What every picture has: figures at round places, names that don't touch, escaped words."""

import pytest

from services_inventory.domain.drawing import Axes, apart, picture, shape, text, ticks


def test_words_of_a_file_cannot_break_out_of_a_picture():
    drawn = picture(10, 10, [text(1, 2, '<script>"&')], 'a "b" <c>', "told <d>")
    assert "<script>" not in drawn and "<c>" not in drawn and "<d>" not in drawn
    assert shape("text", x='"') == '<text x="&quot;"/>'


@pytest.mark.parametrize(
    ("low", "high", "most", "expected"),
    [
        (0, 1, 8, [0, 0.2, 0.4, 0.6, 0.8, 1]),
        (0, 35, 8, [5 * n for n in range(8)]),
        (31, 79, 6, [40, 50, 60, 70]),
    ],
)
def test_ticks_lie_between_the_ends_and_are_few(low, high, most, expected):
    assert ticks(low, high, most) == pytest.approx(expected)


def test_names_that_would_touch_move_down_in_their_order():
    assert apart([(52, "c"), (50, "b"), (10, "a")], 12, 0) == [(10, "a"), (50, "b"), (62, "c")]
    assert apart([(-30, "above")], 12, 4) == [(4, "above")]


def test_a_figure_above_the_box_stays_at_its_top():
    axes = Axes(10, 110, 5, 55, longest=20, highest=100, first=10)
    assert (axes.x(15), axes.y(50), axes.y(1e9)) == (60, 30, 5)
