import pytest

from reference.printed import assert_printed, half_of_last_digit


@pytest.mark.parametrize(
    ("printed", "half"),
    [("43.3", 0.05), ("944", 0.5), (".0598969", 5e-8), ("1.20e3", 5.0), ("1,234", 0.5), ("-2.0", 0.05)],
)
def test_tolerance_is_half_of_the_last_digit(printed: str, half: float) -> None:
    assert half_of_last_digit(printed) == pytest.approx(half)


def test_what_rounds_to_it_passes_and_what_does_not_fails() -> None:
    assert_printed(43.349, "43.3")
    with pytest.raises(AssertionError, match="does not round"):
        assert_printed(43.351, "43.3")
    with pytest.raises(AssertionError, match="finite"):
        assert_printed(float("nan"), "43.3")


def test_more_room_needs_its_reason() -> None:
    assert_printed(43.4, "43.3", slack=0.2, because="the book rounds the area first")
    with pytest.raises(AssertionError, match="go together"):
        assert_printed(43.4, "43.3", slack=0.2)
    with pytest.raises(AssertionError, match="no more than"):
        assert_printed(43.3, "43.3", slack=0.01, because="needless")
