"""The learned part of how staff's lines are read."""

from tests.conversation.guides import shipped_guide
from triagebot.conversation.understanding.model import load_guess
from triagebot.counter.line_kinds import Kinds, kinds_of_line, model_file
from triagebot.counter.words import staff_words
from triagebot.study.train_lines import Bench, digest_of, lines_by_kind, train_lines

GUIDE = shipped_guide()
SPEAKING = Bench(GUIDE, staff_words("en"), GUIDE.language("en").texts)


def test_the_model_was_made_from_the_lines_that_are_there() -> None:
    model = load_guess(model_file("en"))
    assert model is not None
    assert model.digest == digest_of("en"), "triagebot train"
    assert {kind for _, kind in model.answers} == set(lines_by_kind("en"))


def test_no_line_is_of_two_kinds() -> None:
    lines = [line for each in lines_by_kind("en").values() for line in each]
    assert len(lines) == len(set(lines))


def test_a_tool_is_a_tool_by_any_name_and_a_case_a_case() -> None:
    for text in ("where is the twenty", "where is the crab claw", "where is the two prong"):
        assert kinds_of_line(SPEAKING, text).best == "where"
    for code in ("K7M-4QX", "k7m4qx", "BCD 234"):
        assert kinds_of_line(SPEAKING, f"release {code}").best == "release"


def test_lines_that_it_has_not_seen_are_mostly_of_their_kind() -> None:
    by_kind = lines_by_kind("en")
    kept_back = {kind: lines[::8] for kind, lines in by_kind.items() if len(lines) > 8}
    seen = {kind: [line for line in lines if line not in kept_back.get(kind, ())] for kind, lines in by_kind.items()}
    model = train_lines(GUIDE, "en", seen)
    from triagebot.counter.line_kinds import KIND, features

    right = sure = surely_right = total = 0
    for kind, lines in kept_back.items():
        for line in lines:
            found = Kinds(model.shares(features(SPEAKING, line))[KIND])
            right += found.best == kind
            sure += found.share(found.best) >= 0.8
            surely_right += found.share(found.best) >= 0.8 and found.best == kind
            total += 1
    assert right >= 0.75 * total
    assert sure >= 0.4 * total
    assert surely_right >= 0.95 * sure


def test_without_a_model_nothing_is_said() -> None:
    nothing = Kinds({})
    assert nothing.best == ""
    assert nothing.share("lend") == 0.0
    assert nothing.likely(0.1) == []
