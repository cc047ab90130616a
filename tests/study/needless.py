"""Which questions change nothing: `python -m tests.study.needless PEOPLE SEED`, people of a household in the city.

A question changed nothing where the same would be named, or nobody's remover, without its answer.
"""

import sys
from collections import Counter

from tests.strategies import rear_sprockets
from triagebot.identify import belief, decide
from triagebot.study.people import draw_person, profile_named
from triagebot.study.simulate import meet
from triagebot.study.wheels import load_wheels, mix_of


def main(people: int, seed: int) -> None:
    """Print a line a question: how often it was put to a person, and how often it changed nothing."""
    topic = rear_sprockets()
    wheels, profile = load_wheels(topic), profile_named("household")
    shares = mix_of(topic, wheels, "")
    asked, needless = Counter[str](), Counter[str]()
    for number in range(people):
        meeting = meet(topic, draw_person(topic, number, seed, profile, shares, wheels))
        for place, reading in enumerate(meeting.readings):
            rest = [*meeting.readings[:place], *meeting.readings[place + 1 :]]
            ends = decide(topic.model, belief(topic.model, rest))
            asked[reading.question] += 1
            needless[reading.question] += ends.remedies == meeting.step.decision.remedies
    print(f"{'question':<16}{'a person':>10}{'needless':>10}")
    for question, times in asked.most_common():
        print(f"{question:<16}{times / people:>10.3f}{needless[question] / people:>10.3f}")
    print(f"{'all':<16}{asked.total() / people:>10.3f}{needless.total() / people:>10.3f}")


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
