"""Whose turn it is: nobody waits for all that somebody else has piled up."""

from hypothesis import given
from hypothesis import strategies as st

from triagebot.delivery.writer import MANY, FairQueue


def rounds(queue: FairQueue[str]) -> list[list[str]]:
    """All that is in the queue, round by round."""
    found = []
    while queue:
        queue.begin_round()
        found.append(list(iter(queue.take, None)))
    return found


def filled(**lines: int) -> FairQueue[str]:
    queue: FairQueue[str] = FairQueue()
    for name, length in lines.items():
        for number in range(length):
            queue.put(f"{name}{number}", name)
    return queue


def test_each_conversation_has_one_job_done_before_any_has_its_next() -> None:
    assert rounds(filled(a=3, b=2, c=1)) == [["a0", "b0", "c0", "a1", "b1", "a2"]]


def test_who_writes_one_message_waits_for_one_of_a_flood_at_most() -> None:
    queue = filled(flood=1000)
    queue.begin_round()
    assert queue.take() == "flood0"
    queue.put("hello", "bystander")
    assert queue.take() is None  # the flood's round is over, so it is committed now
    queue.begin_round()
    assert [queue.take(), queue.take()] == ["hello", None]  # and nothing of the flood keeps this from its commit


def test_a_flood_goes_on_beside_people_who_never_stop() -> None:
    queue = filled(flood=MANY + 7)
    done = []
    for number in range(20):
        queue.put(f"hello{number}", "bystander")
        queue.begin_round()
        done += list(iter(queue.take, None))
    assert [each for each in done if each.startswith("flood")] == [f"flood{number}" for number in range(MANY + 7)]
    assert len(done) > 20


def test_two_floods_share_a_round() -> None:
    assert rounds(filled(a=5, b=5))[:2] == [["a0", "b0"], ["a1", "b1"]]


def test_what_belongs_to_no_conversation_is_never_crowded() -> None:
    queue: FairQueue[str] = FairQueue()
    for number in range(20):
        queue.put(str(number))
    assert rounds(queue) == [[str(number) for number in range(20)]]


@given(st.lists(st.tuples(st.sampled_from(["a", "b", "c", ""]), st.booleans()), max_size=60))
def test_nothing_is_lost_and_each_conversation_keeps_its_order(steps: list[tuple[str, bool]]) -> None:
    queue: FairQueue[tuple[str, int]] = FairQueue()
    done: list[tuple[str, int]] = []
    for number, (conversation, also_takes) in enumerate(steps):
        queue.put((conversation, number), conversation)
        if also_takes:
            queue.begin_round()
            done += [job for job in [queue.take()] if job is not None]
    while queue:
        queue.begin_round()
        done += list(iter(queue.take, None))
    assert sorted(number for _, number in done) == list(range(len(steps)))
    for conversation in ("a", "b", "c", ""):
        own = [number for name, number in done if name == conversation]
        assert own == sorted(own)
