"""The day at the shop that can be written out is short enough to be read, and has everything in it."""

from pathlib import Path

from tests.counter.screen import DAY, written


def test_a_day_at_the_shop_is_written_out(tmp_path: Path) -> None:
    text = written(tmp_path)
    assert text.count("**Ada**") == sum(who == "ada" for who, _ in DAY)
    for words in (
        "the fat twelve",
        "Missing: the spin test.",
        "Ada has 222-222.",
        "Sent to 222-222",
        "is back: ",
        "Fetch:",
    ):
        assert words in text
    assert "could be each of these." in text
    assert "$" not in text


def test_no_answer_to_the_staff_is_longer_than_a_screen_or_two(tmp_path: Path) -> None:
    text = written(tmp_path)
    answers = [block.split("**")[0] for block in text.split("**The bot, to Ada**")[1:]]
    assert max(map(len, answers)) < 1600
