"""Making the learned part of finding what is asked, from labelled questions (`text/<language>.asked.jsonl` of a topic).

A row is one question: `open`, what was asked just before (null: nothing; "answered": a fastening was named); `text`;
`asks`, an enquiry, a word that always works, `what-is:WORD`, or "-" for what nothing here answers ("who won the
match?"). The examples of the enquiries' files and the words that always work among the reader's messages are learned
as well; its other messages teach what telling is like. Ridge regression onto a column for each (regularised least-
squares classification), solved in its dual form, since there are fewer messages than features. Needs scipy, which
comes with scikit-learn.
"""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from triagebot.conversation import Guide
from triagebot.conversation.enquiries import Enquiries, load_enquiries
from triagebot.conversation.enquiries.learned import ASKS, MEANS, NOTHING, TELLS, features
from triagebot.conversation.enquiries.sentences import sentences_of
from triagebot.conversation.understanding.model import Guess
from triagebot.errors import DataError, Problem
from triagebot.study.train_reader import Labelled, Taught, corpus_of, digest_of, labelled, sparse

#: Into how many buckets the features go, and how much the weights are held back.
BUCKETS, HELD_BACK = 1 << 14, 0.1
#: Every so many messages that tell something are learned from.
EVERY = 3


@dataclass(frozen=True, slots=True)
class Question:
    """What somebody asked, the question that was open then, and what it asks for."""

    opened: str | None
    text: str
    asks: str


def questions(file: Path) -> list[Question]:
    """The labelled questions of a file. Raises DataError with every line that cannot be read."""
    rows: list[Question] = []
    problems: list[Problem] = []
    for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), 1):
        try:
            row = json.loads(line)
            rows.append(Question(row["open"], row["text"], str(row["asks"])))
        except (ValueError, KeyError, TypeError, AttributeError) as fault:
            problems.append(Problem(str(file), number, 1, f"is no labelled question: {fault!r}"))
    if problems:
        raise DataError(file, tuple(problems))
    return rows


def questions_of(topic_folder: Path, language: str) -> Path:
    return topic_folder / "text" / f"{language}.asked.jsonl"


def learned_of(topic_folder: Path, language: str) -> Path:
    return topic_folder / "text" / f"{language}.asked.guess"


def train_enquiries(
    guide: Guide, language: str, asked: Sequence[Question], told: Sequence[Labelled], digest: str = ""
) -> Guess:
    """The model that these questions make, beside messages that ask for nothing."""
    known = load_enquiries(language, guide.topic.folder)
    common = guide.language(language).words.common
    questions = [*asked, *_examples(known), *_commands(told)]
    rows = [*questions, *_telling(told)]
    heard = [[each for each in sentences_of(row.text, known, common) if each.keys] for row in rows]
    found = sparse([features(each, row.opened) for row, each in zip(rows, heard, strict=True)], BUCKETS)
    asking = [row.asks.partition(":")[0] for row in rows]
    columns = [
        (ASKS, ["" if kind == NOTHING else kind for kind in asking], list(range(len(questions)))),
        (TELLS, [NOTHING if place >= len(questions) else "" for place in range(len(rows))], list(range(len(rows)))),
        (MEANS, [row.asks.partition(":")[2] for row in rows], [n for n, row in enumerate(rows) if ":" in row.asks]),
    ]
    answers: list[tuple[str, str]] = []
    weights = []
    for question, labels, kept in columns:
        names = sorted({labels[place] for place in kept} - {""})
        answers += [(question, name) for name in names]
        wanted = np.array([[labels[place] == name for name in names] for place in kept], np.float32)
        weights.append(_ridge(found[kept], wanted))
    whole = np.hstack(weights)
    scale = np.abs(whole).max(axis=0) / 127
    shrunk, base = np.round(whole / scale).astype(np.int8), np.zeros(len(answers), np.float32)
    return Guess(shrunk, scale.astype(np.float32), base, tuple(answers), digest)


def _ridge(found: Any, wanted: NDArray[np.float32]) -> NDArray[np.float32]:
    """Weights of shape (features, columns) that give the `wanted` columns for the rows `found`."""
    from scipy.linalg import solve

    alike = (found @ found.T).toarray().astype(np.float32)
    alike[np.diag_indices_from(alike)] += HELD_BACK
    solved = solve(alike, wanted, assume_a="pos", overwrite_a=True, check_finite=False)
    return np.asarray(found.T @ solved, np.float32)


def teach_enquiries(guide: Guide, language: str) -> Taught | None:
    """Make the model of a topic's language anew and keep it beside its texts. None for a topic without labelled
    questions. Raises DataError."""
    folder = guide.topic.folder
    file, corpus = questions_of(folder, language), corpus_of(folder, language)
    if not file.exists():
        return None
    asked, told = questions(file), labelled(corpus) if corpus.exists() else []
    made = train_enquiries(guide, language, asked, told, digest_of(file))
    made.save(learned_of(folder, language))
    return Taught(learned_of(folder, language), len(asked), len(made.answers))


def _examples(known: Enquiries) -> Iterator[Question]:
    for name, text in known.like:
        yield Question(None, text, name)


def _commands(told: Sequence[Labelled]) -> Iterator[Question]:
    """Words that always work, each under its name."""
    for row in told:
        if row.command is not None and not row.means:
            yield Question(row.opened, row.text, row.command)


def _telling(told: Sequence[Labelled]) -> Iterator[Question]:
    """Some of the messages that tell something."""
    telling = [row for row in told if row.means]
    for row in telling[::EVERY]:
        yield Question(row.opened, row.text, NOTHING)
