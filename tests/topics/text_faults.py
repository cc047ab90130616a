"""Faults of a topic's texts, as edits of the topic that ships, with words of the message."""

from tests.topics.faults import TEXT, Edit

WORDING: dict[str, tuple[list[Edit], str]] = {
    "a text for nothing": ([(TEXT, "topic-name", "§spare = Words\ntopic-name")], "spare: nothing asks for this text"),
    "an attribute for nothing": (
        [(TEXT, "topic-name = some words", "topic-name = some words\n    §.long = more")],
        "topic-name.long: nothing asks",
    ),
    "a variable that is not given": (
        [(TEXT, "topic-name = some words", "§topic-name = { $shop }")],
        "no variable $shop",
    ),
    "a variable given through another text": (
        [(TEXT, "topic-name = some words", "§topic-name = { inner }\ninner = { $shop }")],
        "topic-name: the program gives it no variable $shop",
    ),
    "a value not shown": (
        [(TEXT, "    .said = some words { $value }", "    §.said = some words")],
        "must show the variable $value",
    ),
    "a torque not shown": (
        [(TEXT, "refit-lockring = some words { $handle } { $kilos } { $torque }", "§refit-lockring = tight")],
        "must show the variable $torque",
    ),
    "a text twice": (
        [(TEXT, "topic-name = some words", "topic-name = some words\n§topic-name = others")],
        "stands twice",
    ),
    "no Fluent": ([(TEXT, "topic-name = some words", "topic-name §some words")], "not Fluent"),
    "a reference to nothing": (
        [(TEXT, "topic-name = some words", "§topic-name = { topic-nane }")],
        "refers to 'topic-nane'",
    ),
    "a term that is not there": ([(TEXT, "topic-name = some words", "§topic-name = { -shop }")], "refers to '-shop'"),
    "a circle of references": (
        [
            (TEXT, "topic-name = some words", "§topic-name = { topic-purpose }"),
            (TEXT, "topic-purpose = some words", "topic-purpose = { topic-name }"),
        ],
        "in a circle",
    ),
}
