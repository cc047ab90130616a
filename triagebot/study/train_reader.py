"""Making the learned part of the reader from labelled messages (`text/<language>.said.jsonl` of a topic).

A row is one message: `open`, the question that was just asked (or null); `text`; `means`, what a careful mechanic takes
from it, by question (a choice's id, a number, millimetres or "unsure"); `command` where it is a word that always works.
One logistic regression a question, over what `guess.features` sees. It learns from each message twice, once without
what the rules said: rules that were written with these messages in sight are right in them more often than in new
ones, and would be trusted too much. It also learns from messages put together out of two: people answer and chat in one
breath more often than the labelled messages do. Needs scikit-learn.
"""

import hashlib
import json
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from triagebot.conversation import Guide
from triagebot.conversation.understanding.guess import ANYTHING, NOTHING, SOMETHING, UNSURE, VALUE, of_words_alone
from triagebot.conversation.understanding.judging import seen
from triagebot.conversation.understanding.layout import lay_out
from triagebot.conversation.understanding.model import Guess, hashed
from triagebot.errors import DataError, Problem
from triagebot.topics import Question

#: For each so many messages, one is put together of an answer and a remark, and one of two remarks.
ANSWERED, REMARKED = 8, 4
#: Answers and remarks of at most so many words are put together, and what stands between them.
SHORT_ANSWER, SHORT_REMARK, BETWEEN = 9, 14, (", ", ". ", " ", "! ", " - ")
#: What a remark may not speak of beside an answer, as it would put it in doubt: "12, let me count again".
_DOUBTING = frozenset({"plan", "wish", "question", "if", "about", "trailing", "belief"})
#: Into how many buckets the features go, and how little the weights are held back.
BUCKETS, FREEDOM = 1 << 15, 60.0


@dataclass(frozen=True, slots=True)
class Labelled:
    """A message, the question that was open, and what it means by question; `command`: a word that always works."""

    opened: str | None
    text: str
    means: dict[str, Any]
    command: str | None = None
    ask: bool = False


def labelled(file: Path) -> list[Labelled]:
    """The labelled messages of a file. Raises DataError with every line that cannot be read."""
    rows: list[Labelled] = []
    problems: list[Problem] = []
    for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), 1):
        try:
            row = json.loads(line)
            asked = bool(row.get("ask", False))
            rows.append(Labelled(row["open"], row["text"], dict(row["means"]), row.get("command"), asked))
        except (ValueError, KeyError, TypeError, AttributeError) as fault:
            problems.append(Problem(str(file), number, 1, f"is no labelled message: {fault!r}"))
    if problems:
        raise DataError(file, tuple(problems))
    return rows


def corpus_of(topic_folder: Path, language: str) -> Path:
    return topic_folder / "text" / f"{language}.said.jsonl"


def model_of(topic_folder: Path, language: str) -> Path:
    return topic_folder / "text" / f"{language}.guess"


def digest_of(corpus: Path) -> str:
    """What tells whether a model was made from these messages."""
    return hashlib.sha256(corpus.read_bytes()).hexdigest()


def train(guide: Guide, language: str, rows: Sequence[Labelled], digest: str = "") -> Guess:
    """The model that these messages make."""
    from sklearn.linear_model import LogisticRegression

    rows = [*rows, *put_together(guide, language, rows)]
    found = _matrix(guide, language, rows)
    rows = [*rows, *rows]
    weights: list[NDArray[np.float64]] = []
    bias: list[float] = []
    answers: list[tuple[str, str]] = []
    for question, labels in _tasks(guide.topic.questions.values(), rows):
        kept = np.flatnonzero(labels != "")
        if len(set(labels[kept])) < 2:
            continue
        fitted = LogisticRegression(C=FREEDOM, max_iter=300).fit(found[kept], labels[kept])
        own, base = fitted.coef_, fitted.intercept_
        if len(fitted.classes_) == 2:  # one row stands for both
            own, base = np.vstack([-own[0], own[0]]) / 2, np.array([-base[0], base[0]]) / 2
        weights += list(own)
        bias += list(base)
        answers += [(question, str(answer)) for answer in fitted.classes_]
    whole = np.array(weights).T
    scale = np.abs(whole).max(axis=0) / 127
    return Guess(
        np.round(whole / scale).astype(np.int8),
        scale.astype(np.float32),
        np.array(bias, dtype=np.float32),
        tuple(answers),
        digest,
    )


def put_together(guide: Guide, language: str, rows: Sequence[Labelled]) -> Iterator[Labelled]:
    """Messages of two labelled ones to the same question: short answers with a remark before or behind, which mean what
    the answer means; and remarks with another one, which mean nothing. The same ones each time."""
    drawn = random.Random(len(rows))
    plain = [row for row in rows if row.command is None and not row.ask and "?" not in row.text]
    answers = [r for r in plain if r.means and UNSURE not in r.means.values() and _words(r) <= SHORT_ANSWER]
    remarks = [r for r in plain if not r.means and 1 < _words(r) <= SHORT_REMARK]
    beside = [r for r in remarks if _DOUBTING.isdisjoint(lay_out(r.text, guide.setting(language, r.opened)).scopes)]
    if not answers or not beside:
        return
    for _ in range(len(rows) // ANSWERED):
        answer, remark = drawn.choice(answers), drawn.choice(beside)
        pair = [answer.text, remark.text] if drawn.random() < 2 / 3 else [remark.text, answer.text]
        yield Labelled(answer.opened, _joined(pair, drawn), answer.means)
    for _ in range(len(rows) // REMARKED):
        pair = [drawn.choice(remarks).text, drawn.choice(remarks).text]
        yield Labelled(drawn.choice(remarks).opened, _joined(pair, drawn), {})


def _words(row: Labelled) -> int:
    return len(row.text.split())


def _joined(pair: Sequence[str], drawn: random.Random) -> str:
    first, second = pair
    return first.rstrip(".! ") + drawn.choice(BETWEEN) + second


@dataclass(frozen=True, slots=True)
class Taught:
    """What `teach` made: the file, from how many messages, and how many answers it can tell."""

    file: Path
    messages: int
    answers: int


def teach(guide: Guide, language: str) -> Taught:
    """Make the model of a topic's language anew and keep it beside its texts. Raises DataError."""
    folder = guide.topic.folder
    corpus = corpus_of(folder, language)
    if not corpus.exists():
        raise DataError(corpus, (Problem(str(corpus), 0, 0, "is missing: labelled messages, one JSON object a line"),))
    rows = labelled(corpus)
    made = train(guide, language, rows, digest_of(corpus))
    made.save(model_of(folder, language))
    return Taught(model_of(folder, language), len(rows), len(made.answers))


def _matrix(guide: Guide, language: str, rows: Sequence[Labelled]) -> Any:
    """What the model sees of each message, and behind those what it sees without the rules; shape (twice as many,
    buckets)."""
    laid_out = [lay_out(row.text, guide.setting(language, row.opened)) for row in rows]
    whole = [seen(layout) if layout.tokens else {"nothing": 1.0} for layout in laid_out]
    return sparse([*whole, *map(of_words_alone, whole)], BUCKETS)


def sparse(rows: Sequence[Mapping[str, float]], buckets: int) -> Any:
    """Features as a sparse matrix of shape (rows, buckets)."""
    from scipy.sparse import csr_matrix

    ends, columns, values = [0], [], []
    for features in rows:
        places, sizes = hashed(features, buckets)
        columns.append(places)
        values.append(sizes)
        ends.append(ends[-1] + len(places))
    return csr_matrix((np.concatenate(values), np.concatenate(columns), ends), shape=(len(rows), buckets))


def _tasks(questions: Any, rows: Sequence[Labelled]) -> list[tuple[str, NDArray[np.str_]]]:
    """For each question the answer of each message; empty where the label is none of its answers."""
    something = np.array([SOMETHING if row.means or row.command else NOTHING for row in rows])
    tasks = [(ANYTHING, something)]
    for question in questions:
        tasks.append((question.id, np.array([_answer(question, row) for row in rows])))
    return tasks


def _answer(question: Question, row: Labelled) -> str:
    if question.id not in row.means:
        return NOTHING
    value = row.means[question.id]
    if value == UNSURE:
        return UNSURE
    if question.kind != "choice":
        return VALUE
    return str(value) if value in question.choices else ""
