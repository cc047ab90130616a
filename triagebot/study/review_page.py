"""A review as one HTML file that fetches nothing: plots of our own in SVG, each with its figures in a table beneath.

Nothing is told by colour alone: parts of a bar are labelled, and a screen reader gets the tables.
"""

from collections.abc import Callable, Iterator, Sequence
from html import escape

from triagebot.study.learning import Estimate
from triagebot.study.review import Band, Review, Tally
from triagebot.study.review_table import Section, sections, summary

_STYLE = """
:root { --ground: #faf8f5; --card: #ffffff; --ink: #211d19; --soft: #5c544b; --line: #d9d1c7; --good: #1d5fa8;
  --alike: #7fa8d4; --bad: #b3400a; --person: #8a8177; --dark: #ffffff; color-scheme: light dark; }
@media (prefers-color-scheme: dark) { :root { --ground: #191614; --card: #231f1c; --ink: #f0eae2; --soft: #b9aea1;
  --line: #443c35; --good: #8fc1ff; --alike: #4d6f96; --bad: #ff9a5c; --person: #8a8177; --dark: #191614; } }
body { margin: 0 auto; max-width: 62rem; padding: 1rem; background: var(--ground); color: var(--ink);
  font: 1.0625rem/1.5 system-ui, "Segoe UI", Roboto, "Noto Sans", "DejaVu Sans", sans-serif; }
h1 { font-size: 1.5rem; } h2 { font-size: 1.25rem; margin: 2rem 0 .6rem; } p { max-width: 46rem; }
.card { background: var(--card); border: 1px solid var(--line); border-radius: 10px; padding: .8rem 1rem;
  overflow-x: auto; }
svg { display: block; width: 100%; max-width: 40rem; height: auto; }
svg text { fill: var(--ink); font: 13px system-ui, sans-serif; }
svg .soft { fill: var(--soft); } svg .inside { fill: var(--dark); }
table { border-collapse: collapse; margin-top: .8rem; font-variant-numeric: tabular-nums; }
th, td { text-align: right; padding: .25rem .7rem; border-bottom: 1px solid var(--line); white-space: nowrap; }
th, td:first-child { white-space: normal; }
th:first-child, td:first-child { text-align: left; padding-left: 0; min-width: 9rem; }
thead th { color: var(--soft); font-weight: 600; }
@media (max-width: 30rem) {
  body { padding: .6rem; } .card { padding: .5rem; } table { font-size: .8rem; width: 100%; }
  th, td { padding: .3rem .15rem .3rem .25rem; } th:first-child, td:first-child { min-width: 5rem; }
  thead th { font-size: .62rem; } }
"""
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"

#: The parts of a bar and their colours.
_PARTS = (("right", "--good"), ("look_alike", "--alike"), ("wrong", "--bad"), ("person", "--person"))
#: Of a row: its name stands above its bar, so that both can be read on a phone. In the units of a drawing `_WIDE` wide.
_WIDE, _BAR, _ROW, _BELOW = 360, 310, 48, 20


def review_page(review: Review, when: str) -> str:
    """The whole file; `when` says when it was made."""
    head = (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(_POLICY)}">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>How it has gone: {escape(review.topic)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
    )
    return head + "\n".join(_body(review, when)) + "\n</body>\n</html>\n"


def _body(review: Review, when: str) -> Iterator[str]:
    yield "<h1>How it has gone</h1>"
    yield f"<p>{escape(when)}<br>{'<br>'.join(map(escape, summary(review)))}</p>"
    if not review.closed:
        yield "<p>Nothing can be said about right and wrong before cases are closed.</p>"
    plots: dict[str, Callable[[], Iterator[str]]] = {
        "fastenings": lambda: _outcomes([*review.fastenings, ("all closed cases", review.tally)]),
        "bins": lambda: _reliability(review.bins),
        "priors": lambda: _estimates(review.priors),
        "slips": lambda: _estimates(review.slips),
    }
    for section in sections(review):
        note = f"<p>{escape(section.note)}</p>" if section.note else ""
        yield f'<h2>{escape(section.title)}</h2>{note}<div class="card">'
        if section.about in plots:
            yield from plots[section.about]()
        yield f"{_table(section)}</div>"


def _outcomes(rows: Sequence[tuple[str, Tally]]) -> Iterator[str]:
    height = _ROW * len(rows) + 28
    yield f'<svg viewBox="0 0 {_WIDE} {height}" role="img" aria-label="Outcomes by fastening, as bars">'
    for x, (name, colour) in zip(range(0, _WIDE, _WIDE // len(_PARTS)), _PARTS, strict=True):
        yield f'<rect x="{x}" y="4" width="12" height="12" style="fill: var({colour})"/>'
        yield f'<text x="{x + 16}" y="15">{name.replace("_", "-")}</text>'
    for place, (name, tally) in enumerate(rows):
        yield from _bar(name, tally, place * _ROW + 26)
    yield "</svg>"


def _bar(name: str, tally: Tally, y: int) -> Iterator[str]:
    yield f'<text x="0" y="{y + 15}">{escape(name)}</text>'
    parts = [(part, getattr(tally, part), colour) for part, colour in _PARTS]
    whole = sum(count for _, count, _ in parts)
    x, y = 0.0, y + _BELOW
    for _, count, colour in parts:
        width = _BAR * count / whole if whole else 0
        if width:
            yield f'<rect x="{x:.1f}" y="{y}" width="{width:.1f}" height="20" style="fill: var({colour})"/>'
        if width > 24:
            yield f'<text class="inside" x="{x + width / 2:.1f}" y="{y + 15}" text-anchor="middle">{count}</text>'
        x += width
    yield f'<text class="soft" x="{_BAR + 8}" y="{y + 15}">{tally.cases}</text>'


def _reliability(bins: Sequence[Band]) -> Iterator[str]:
    side, left, top = 360, 60, 12
    yield "<p>On the slanting line, what was stated is what came true; below it, it was too sure. "
    yield "A dot’s bar is its 95 % interval, its size how many cases it stands for.</p>"
    yield f'<svg viewBox="0 0 {left + side + 20} {top + side + 48}" style="max-width: 27rem" role="img" '
    yield 'aria-label="Reliability diagram; the figures are in the table below">'
    for tick in range(0, 11, 2):
        x, y = left + side * tick / 10, top + side * (1 - tick / 10)
        yield f'<path d="M{x} {top} V{top + side} M{left} {y} H{left + side}" style="stroke: var(--line)"/>'
        yield f'<text class="soft" x="{x}" y="{top + side + 18}" text-anchor="middle">{tick * 10} %</text>'
        yield f'<text class="soft" x="{left - 8}" y="{y + 4}" text-anchor="end">{tick * 10} %</text>'
    yield f'<path d="M{left} {top + side} L{left + side} {top}" style="stroke: var(--soft); stroke-dasharray: 5 4"/>'
    most = max(band.cases for band in bins)
    for band in bins:
        x = left + side * band.stated
        low, high, middle = (top + side * (1 - share) for share in (band.low, band.high, band.true))
        yield f'<path d="M{x:.1f} {low:.1f} V{high:.1f}" style="stroke: var(--good); stroke-width: 2"/>'
        radius = 3 + 6 * (band.cases / most) ** 0.5
        yield f'<circle cx="{x:.1f}" cy="{middle:.1f}" r="{radius:.1f}" style="fill: var(--good)"/>'
    yield f'<text x="{left + side / 2}" y="{top + side + 40}" text-anchor="middle">stated</text>'
    middle = top + side / 2
    yield f'<text x="14" y="{middle}" text-anchor="middle" transform="rotate(-90 14 {middle})">came true</text>'
    yield "</svg>"


def _estimates(rows: Sequence[Estimate]) -> Iterator[str]:
    top = max(max(row.high, row.shipped, row.used, row.suggested) for row in rows) * 1.05
    label = "As the topic ships, and as suggested, with intervals"
    yield f'<svg viewBox="0 0 {_WIDE} {_ROW * len(rows) + 28}" role="img" aria-label="{label}">'
    yield '<text x="0" y="15">● suggested, its 95 % interval   │ as the topic ships</text>'
    for place, row in enumerate(rows):
        y = place * _ROW + 26 + _BELOW + 10
        low, high, dot, tick = (
            8 + (_WIDE - 16) * value / top for value in (row.low, row.high, row.suggested, row.shipped)
        )
        yield f'<text x="0" y="{y - 15}">{escape(row.name)}</text>'
        yield f'<path d="M{low:.1f} {y} H{high:.1f}" style="stroke: var(--alike); stroke-width: 6"/>'
        yield f'<path d="M{tick:.1f} {y - 9} V{y + 9}" style="stroke: var(--bad); stroke-width: 2.5"/>'
        yield f'<circle cx="{dot:.1f}" cy="{y}" r="5" style="fill: var(--good)"/>'
    yield "</svg>"


def _table(section: Section) -> str:
    head = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in section.head)
    rows = ("".join(f"<td>{escape(str(cell))}</td>" for cell in row) for row in section.rows)
    body = "".join(f"<tr>{row}</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
