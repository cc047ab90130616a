"""Making the model of what kind of line the staff write (`counter.line_kinds`), from lines by kind
(`counter/lines/<language>.yaml`): one logistic regression over all kinds. Needs scikit-learn.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from triagebot.conversation import Guide
from triagebot.conversation.understanding.model import Guess, hashed
from triagebot.counter.line_kinds import KIND, features, lines_file, model_file
from triagebot.counter.words import StaffWords, staff_words
from triagebot.topics import Texts, read_yaml

#: Into how many buckets the features go, and how little the weights are held back.
BUCKETS, FREEDOM = 1 << 14, 100.0


@dataclass(frozen=True, slots=True)
class Bench:
    """What it takes to know the tools in a line."""

    guide: Guide
    words: StaffWords
    texts: Texts


def lines_by_kind(language: str) -> Mapping[str, Sequence[str]]:
    """The lines to learn from."""
    found, _ = read_yaml(lines_file(language))
    return {str(kind): [str(line) for line in lines] for kind, lines in found.items()}


def digest_of(language: str) -> str:
    """What tells whether a model was made from these lines."""
    return hashlib.sha256(lines_file(language).read_bytes()).hexdigest()


def train_lines(guide: Guide, language: str, by_kind: Mapping[str, Sequence[str]]) -> Guess:
    """The model that these lines make."""
    from sklearn.linear_model import LogisticRegression

    rows = [(line, kind) for kind, lines in by_kind.items() for line in lines]
    bench = Bench(guide, staff_words(language), guide.language(language).texts)
    fitted = LogisticRegression(C=FREEDOM, max_iter=300).fit(
        _matrix([features(bench, line) for line, _ in rows]), [kind for _, kind in rows]
    )
    whole = fitted.coef_.T
    scale = np.abs(whole).max(axis=0) / 127
    answers = tuple((KIND, str(kind)) for kind in fitted.classes_)
    weights, bias = np.round(whole / scale).astype(np.int8), fitted.intercept_.astype(np.float32)
    return Guess(weights, scale.astype(np.float32), bias, answers, digest_of(language))


def teach_lines(guide: Guide, language: str) -> int:
    """Makes the model of a language anew and keeps it; from how many lines, 0 where there are none."""
    if not lines_file(language).exists():
        return 0
    by_kind = lines_by_kind(language)
    train_lines(guide, language, by_kind).save(model_file(language))
    return sum(map(len, by_kind.values()))


def _matrix(seen: Sequence[Mapping[str, float]]) -> Any:
    from scipy.sparse import csr_matrix

    ends, buckets, values = [0], [], []
    for each in seen:
        places, sizes = hashed(each, BUCKETS)
        buckets.append(places)
        values.append(sizes)
        ends.append(ends[-1] + len(places))
    return csr_matrix((np.concatenate(values), np.concatenate(buckets), ends), shape=(len(seen), BUCKETS))
