"""How long the first messages are: `python -m tests.bench.first_words` prints each with its words and characters, the
address of the card among them, and with how many words the remover and its direction have been told."""

from collections.abc import Iterator
from itertools import combinations

from tests.conversation.guides import shipped_guide
from tests.conversation.test_glance import CARD, persons, reached, two_kinds, with_removers
from triagebot.conversation import Guide, Reply, greet, open_case, plain
from triagebot.conversation.blocks import Direction, Tool
from triagebot.testing import START


def first_messages(guide: Guide) -> Iterator[tuple[str, Reply]]:
    """The greeting, and the first message of every end."""
    yield "greeting", greet(guide, open_case(guide, "AAA-001", "en", START), START).reply
    for fastening in with_removers(guide):
        yield f"answer: {fastening.id}", reached(guide, fastening).before_question(CARD)
    for one, other in combinations(with_removers(guide), 2):
        if (one.remover, one.direction) != (other.remover, other.direction):
            yield f"two kinds: {one.id}, {other.id}", two_kinds(guide, one, other).before_question(CARD)
    for name, reply in persons(guide):
        yield f"person: {name}", reply.before_question(CARD)


def until_told(reply: Reply) -> int | None:
    """With how many words the tools and the direction have been told; None where none are."""
    text = plain(reply)
    ends = [text.index(block.text) + len(block.text) for block in reply.of(Tool, Direction)]
    return len(text[: max(ends)].split()) if ends else None


def main() -> None:
    longest: dict[str, tuple[int, int, int]] = {}
    for name, reply in first_messages(shipped_guide()):
        text = (
            plain(reply) if reply.question is None else " ".join([*(b.text for b in reply.said), reply.question.text])
        )
        words, characters, soon = len(text.split()), len(text), until_told(reply)
        print(f"{words:4} words {characters:4} characters, remover by word {'-' if soon is None else soon:>3}  {name}")
        kind = name.partition(":")[0]
        most = longest.get(kind, (0, 0, 0))
        longest[kind] = (max(most[0], words), max(most[1], characters), max(most[2], soon or 0))
    for kind, (words, characters, soon) in longest.items():
        print(f"longest {kind}: {words} words, {characters} characters; remover by word {soon or '-'}")


if __name__ == "__main__":
    main()
