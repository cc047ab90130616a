"""Faults of shape and of reference: small edits of the topic that ships, and what the check must say to each."""

CATALOGUE, FLOW, SOURCES, GAUGES, TEXT = "catalogue.yaml", "flow.yaml", "sources.yaml", "gauges.yaml", "text/en.ftl"

#: File, what to replace, what by; the mark § stands where the problem is to be told.
Edit = tuple[str, str, str]

ALL_STATES = "[begin, asking, confirm, ended]"
NOT_EVERY = ((FLOW, 'source: ["*"]', f"source: {ALL_STATES}"),) * 2


def also(*, states: str = "", guards: str = "", transitions: str = "") -> list[Edit]:
    """Edits that add rows to the flow: `{id: …}`, `name: {…}`, `{trigger: …}`, the lines of each joined by `|`."""
    added = (("states", states, "  - "), ("guards", guards, "  "), ("transitions", transitions, "  - "))
    return [
        (FLOW, f"\n{top}:\n", f"\n{top}:\n" + "".join(f"{dash}{row}\n" for row in rows.split("|")))
        for top, rows, dash in added
        if rows
    ]


#: The deep lockring's size, as the catalogue writes it.
DEEP_SIZE = "size: {mm: 23.4, tolerance: 0.25}"

#: name: edits (the mark § stands where the problem is to be told), and words of the message.
SHAPE: dict[str, tuple[list[Edit], str]] = {
    "unknown key": ([(CATALOGUE, "    system: cassette\n", "    system: cassette\n    §colour: red\n")], "is no key"),
    "unknown key at the top": ([(FLOW, "start: begin\n", "start: begin\n§stop: begin\n")], "stop: is no key"),
    "missing key": ([(FLOW, "start: begin\n", ""), (FLOW, "topic: ", "§topic: ")], "start: is missing"),
    "missing key of an item": (
        [(CATALOGUE, "- {id: chain-whip, source: common-practice}", "- §{id: chain-whip}")],
        "accessories[chain-whip].source: is missing",
    ),
    "no number": ([(CATALOGUE, "handle-mm: 300", "handle-mm: §long")], "handle-mm: should be a number"),
    "not a finite number": ([(CATALOGUE, "handle-mm: 300", "handle-mm: §nan")], "should be a number"),
    "number too small": ([(CATALOGUE, "handle-mm: 300", "handle-mm: §0")], "greater than 0"),
    "a bias that leaves no scatter": ([(FLOW, "bias: 0.6", "bias: §1")], "less than 1"),
    "no whole number": ([(FLOW, "most: 48", "most: §4.5")], "whole number"),
    "a list that is none": ([(CATALOGUE, "steps: [prepare,", "steps: §{prepare: x}\nfoo: [")], "should be a list"),
    "a text where keys should be": ([(FLOW, "noise:\n  miss", "noise: §none\nfoo:\n  miss")], "should be keys"),
    "an id with capitals": ([(CATALOGUE, "- id: cassette-12-spline\n", "- id: §Cassette\n")], "lowercase words"),
    "a bad id as a key": ([(CATALOGUE, "      drive: coasts", "      §Drive: coasts")], "lowercase words"),
    "an unknown word": ([(FLOW, "order: planner", "order: §best")], "order: should be 'planner' or 'fixed'"),
    "a size that is none": (
        [(CATALOGUE, DEEP_SIZE, "size: {mm: §-1}")],
        "size.mm: should be greater",
    ),
    "a size of two forms": (
        [(CATALOGUE, DEEP_SIZE, "size: §{mm: 23, low: 1, high: 2}")],
        "either mm",
    ),
    "a share above 1": ([(CATALOGUE, '"8": 0.16', '"8": §1.6')], "less than or equal to 1"),
    "a choice question with one choice": (
        [(FLOW, "- id: drive\n", "- §id: drive\n"), (FLOW, "[coasts, fixed]", "[coasts]")],
        "at least two",
    ),
    "a repeated key": ([(FLOW, "start: begin\n", "start: begin\n§start: begin\n")], "stands twice"),
    "no YAML": ([(GAUGES, "gauges:\n", "gauges: [\n"), (GAUGES, "  - {id: eur-10c", "  §- {id: eur-10c")], "not YAML"),
}

REFERENCES: dict[str, tuple[list[Edit], str]] = {
    "remover": ([(CATALOGUE, "remover: hook-spanner", "remover: §hook-spaner")], "did you mean 'hook-spanner'?"),
    "accessory": ([(CATALOGUE, "[chain-whip, large", "[§chain-wip, large")], "no accessory 'chain-wip'"),
    "caution": ([(CATALOGUE, "cautions: [tool-slips", "cautions: [§tool-falls")], "no caution 'tool-falls'"),
    "step": ([(CATALOGUE, "step: prepare", "step: §dream")], "no step 'dream'"),
    "source of a fastening": ([(CATALOGUE, "{default: common", "{default: §un-common")], "no source 'un-common"),
    "source of refitting": ([(CATALOGUE, "refit-lockring, source: ", "refit-lockring, source: §x")], "no source 'x"),
    "source of a remover": ([(CATALOGUE, "[lockring], source: ", "[lockring], source: §x")], "no source 'x"),
    "source of an accessory": ([(CATALOGUE, "{id: gloves, source: ", "{id: gloves, source: §x")], "no source 'x"),
    "source of a caution": ([(CATALOGUE, "step: prepare, source: ", "step: prepare, source: §x")], "no source 'x"),
    "source of a question": ([(FLOW, "    source: assumption", "    source: §xassumption")], "no source 'x"),
    "source of the noise": ([(FLOW, "  source: assumption", "  source: §xassumption")], "noise.source: there is no"),
    "source of a means": ([(FLOW, "sd: 0.2, source: ", "sd: 0.2, source: §x")], "no source 'x"),
    "source of a gauge": ([(GAUGES, "source: ", "source: §x")], "no source 'x"),
    "source twice": ([(SOURCES, "{id: judgement", "{id: §memory")], "'memory' stands twice"),
    "gauge twice": ([(GAUGES, "{id: eur-20c", "{id: §eur-10c")], "'eur-10c' stands twice"),
    "fastening twice": (
        [(CATALOGUE, "- id: cassette-12-spline-deep\n", "- id: §cassette-12-spline\n")],
        "stands twice",
    ),
    "remover twice": ([(CATALOGUE, "{id: two-chain-whips,", "{id: §hook-spanner,")], "stands twice"),
    "step twice": ([(CATALOGUE, "[prepare, fit-tool", "[prepare, §prepare, fit-tool")], "stands twice"),
    "caution twice": ([(CATALOGUE, "[tool-slips, teeth-cut", "[tool-slips, §tool-slips, teeth-cut")], "stands twice"),
    "question twice": ([(FLOW, "- id: hub\n", "- id: §torque\n")], "stands twice"),
    "choice twice": ([(FLOW, "[coasts, fixed]", "[coasts, fixed, §coasts]")], "stands twice"),
    "state twice": ([(FLOW, "{id: confirm}", "{id: §begin}")], "stands twice"),
    "answer to no question": ([(CATALOGUE, "      drive: coasts", "      §drives: coasts")], "no question 'drives'"),
    "answer to a question of another purpose": (
        [(CATALOGUE, "      drive: coasts", "      §wheel: out")],
        "not there to",
    ),
    "answer that is no choice": ([(CATALOGUE, "drive: coasts", "drive: §coast")], "did you mean 'coasts'?"),
    "mix of no choices": ([(CATALOGUE, "{plain: 0.98, geared", "{§flat: 0.98, geared")], "no choice 'flat'"),
    "mix that is no whole": (
        [(CATALOGUE, "body: {nine-one-narrow: 0.90", "body: §{nine-one-narrow: 0.80")],
        "sum to 0.9",
    ),
    "count out of range": ([(CATALOGUE, 'count: "12"', 'count: §"120"')], "whole number within 1 and 48"),
    "count that is none": ([(CATALOGUE, 'count: "12"', "count: §dozen")], "whole number within"),
    "count with a leading nought": ([(CATALOGUE, 'count: "12"', 'count: §"012"')], "whole number within"),
    "size for a count": ([(CATALOGUE, 'count: "12"', "count: §{mm: 12}")], "should be an answer to a count question"),
    "count for a size": ([(CATALOGUE, DEEP_SIZE, 'size: §"23"')], "should be a size"),
    "size out of range": (
        [(CATALOGUE, DEEP_SIZE, "size: {mm: §234}")],
        "should lie within 10 and 60 mm",
    ),
    "greatest size out of range": ([(CATALOGUE, "{low: 30, high: 45}", "{low: 30, high: §450}")], "should lie within"),
    "priors": (
        [(CATALOGUE, "    prior: 0.", "    prior: 0.9"), (CATALOGUE, "\nfastenings:", "\n§fastenings:")],
        "priors sum",
    ),
    "no broad fastening": (
        [(CATALOGUE, "    broad: true\n", ""), (CATALOGUE, "\nfastenings:", "\n§fastenings:")],
        "must be broad",
    ),
    "two broad fastenings": (
        [
            (CATALOGUE, "    system: cassette\n", "    system: cassette\n    broad: true\n"),
            (CATALOGUE, "    broad: true\n    advice", "    broad: §true\n    advice"),
        ],
        "only one",
    ),
    "a broad fastening with a remover": (
        [(CATALOGUE, "remover: null\n    broad", "remover: §hook-spanner\n    broad")],
        "cannot have a remover",
    ),
    "a broad fastening with answers": (
        [(CATALOGUE, "    broad: true\n", "    broad: true\n    §answers: {drive: coasts}\n")],
        "lists no answers",
    ),
    "look-alike fastening": (
        [(CATALOGUE, "[freewheel-12-spline, freewheel-12-spline-odd]", "[freewheel-12-spline, §freewheel-12]")],
        "no fastening",
    ),
    "look-alike check": ([(CATALOGUE, "check: body", "check: §bodies")], "no question 'bodies'"),
    "prior of a question": ([(FLOW, "{out: 0.75,", "{§outside: 0.75,")], "no choice 'outside'"),
    "prior that is no whole": ([(FLOW, "{out: 0.75,", "§{out: 0.7,")], "sum to 0.95"),
    "obstacle without a prior": (
        [(FLOW, "    prior: {good: 0.95, worn: 0.05}\n", ""), (FLOW, "- id: condition", "- id: §condition")],
        "says how common",
    ),
    "unsure as a choice": ([(FLOW, "[coasts, fixed]", "[coasts, fixed, §unsure]")], "do not list it"),
    "numbers of a size": ([(FLOW, "- id: size\n", "- §id: size\n    numbers: [20]\n")], "only a count offers numbers"),
    "numbers that do not rise": (
        [(FLOW, "- id: sprockets", "- §id: sprockets"), (FLOW, "[1, 5, 6", "[1, 6, 5")],
        "rise",
    ),
    "least not below most": ([(FLOW, "least: 10", "least: §60")], "should be below most (60)"),
    "guard on no question": (also(guards="x: {answered: {§hubs: [plain]}}"), "no question 'hubs'"),
    "guard on no choice": (also(guards="x: {answered: {hub: [§round]}}"), "no choice 'round'"),
    "guard against no choice": (also(guards="x: {not-answered: {hub: [§round]}}"), "no choice 'round'"),
    "guard on no trait": (also(guards="x: {leading: [§clumped]}"), "did you mean 'clamped'?"),
    "guard on nothing mentioned": (also(guards="x: {mentioned: [§moter]}"), "no question 'moter'"),
    "start": ([(FLOW, "start: begin", "start: §end")], "start: there is no state 'end'"),
    "question of a state": ([(FLOW, "{id: ask-hub, question: hub}", "{id: ask-hub, question: §hubs}")], "no question"),
    "state that asks and ends": (
        [(FLOW, "{id: stopped, outcome", "§{id: stopped, question: hub, outcome")],
        "not both",
    ),
    "state with a group's name": ([(FLOW, "{id: confirm}", "{id: §asking}")], "a word for many states"),
    "state with a name of the conversation's own": (
        [(FLOW, "{id: confirm}", "{id: §choosing-a-language}")],
        "a state of every conversation",
    ),
    "trigger": ([(FLOW, "trigger: doubt", "trigger: §dout")], "nothing fires 'dout'"),
    "source state": (
        [(FLOW, "{trigger: doubt, source: [begin", "{trigger: doubt, source: [§start")],
        "no state 'start'",
    ),
    "state to go to": ([(FLOW, "to: confirm", "to: §confirmed")], "did you mean 'confirm'?"),
    "guard of a transition": (
        also(transitions="{trigger: ask, source: [begin], to: ask-hub, guards: [§rain]}"),
        "no guard 'rain'",
    ),
    "guarded restart": ([(FLOW, "to: begin}", "to: begin, §guards: [has-fitting]}")], "must always work"),
    "means twice": ([(FLOW, "{id: tape, sd", "{id: §rule, sd")], "stands twice"),
    "no unknown means": (
        [(FLOW, "{id: unknown, sd", "{id: hearsay, sd"), (FLOW, "  means:\n", "  §means:\n")],
        "'unknown'",
    ),
    "span": ([(FLOW, "span: [10, 55]", "span: §[55, 10]")], "the smaller one first"),
    "bands": ([(FLOW, "fairly-sure: 0.", "fairly-sure: §0.99")], "not be above"),
    "referral question": (
        [(FLOW, "{question: condition, choice: worn", "{question: §state, choice: worn")],
        "no question",
    ),
    "referral choice": ([(FLOW, "choice: worn, ", "choice: §old, ")], "no choice 'old'"),
    "caution of an answer": ([(FLOW, "choice: rear-hub, caution: ", "choice: rear-hub, caution: §x")], "no caution 'x"),
    "accessory of an answer": (
        [(FLOW, "choice: elsewhere, caution: electric", "choice: elsewhere, accessories: [§tongs], caution: electric")],
        "no accessory",
    ),
    "caution of a shop's choice": (
        [(FLOW, "choice: motor-cable, caution: electric", "choice: motor-cable, caution: §electrik")],
        "did you mean 'electric'?",
    ),
    "chart": ([(FLOW, "order: [spin,", "order: [§spun,")], "did you mean 'spin'?"),
}
