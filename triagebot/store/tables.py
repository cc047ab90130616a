"""The tables, for SQLite and PostgreSQL from the same description.

What is personal is encrypted (see `encryption`): a `person` or `conversation` is the hash by which somebody is looked
up, and a `key` that of a platform's id; `body`, `address`, `receipt` and `place` are encrypted JSON objects (the `body`
of a photo encrypted bytes). `person_keys` says with which key.

A change here needs a file in `migrations/versions/`, and its number in `migrations.REVISIONS`; a test compares them.
"""

from sqlalchemy import Column, ForeignKey, Index, Integer, MetaData, Table, Text, UniqueConstraint, text

from triagebot.store.database import NUMBER, Characters, Instant

#: A name for every constraint, so that a migration can speak of it on every database.
NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}

metadata = MetaData(naming_convention=NAMING)

#: One row a case. Numbers are never used again, so that a case that was forgotten cannot be taken for a later one.
cases = Table(
    "cases",
    metadata,
    Column("id", NUMBER, primary_key=True),
    Column("person", Characters, nullable=False, index=True),
    Column("code", Characters, nullable=False, unique=True),
    Column("topic", Characters, nullable=False),
    Column("opened_at", Instant, nullable=False),
    Index("ix_cases_topic_opened_at", "topic", "opened_at"),
    sqlite_autoincrement=True,
)

#: What is counted of a case, so that nobody need fold them all. It is worked out anew some time after its events
#: changed (`changed_at`, None once that is done); `body` is what happened in it, run by run, encrypted.
summaries = Table(
    "summaries",
    metadata,
    Column("case_id", NUMBER, ForeignKey("cases.id", ondelete="CASCADE"), primary_key=True, autoincrement=False),
    Column("changed_at", Instant),
    Column("touched_at", Instant),
    Column("outcome", Characters),
    Column("edition", Characters),
    Column("closed_at", Instant),
    Column("fitted", Integer),
    Column("body", Text),
    Index("ix_summaries_changed_at", "changed_at"),
    Index("ix_summaries_closed_at", "closed_at"),
)

#: Cases of one block of `totals`. Fewer cost a report more rows; more cost it more cases where one of them has changed.
BLOCK = 256
#: What was counted of a block of cases together: `mark` says of which, and how they stood (see `totals`); `body` the
#: numbers, encrypted.
totals = Table(
    "totals",
    metadata,
    Column("topic", Characters, primary_key=True),
    Column("block", NUMBER, primary_key=True, autoincrement=False),
    Column("mark", Characters, nullable=False),
    Column("body", Text, nullable=False),
)

#: Who takes part in a case, and as what. Somebody's current case is the one that they chose last; a case is `person`'s
#: own, or that of a rider whom they help; `body` has what they call it.
parties = Table(
    "parties",
    metadata,
    Column("case_id", NUMBER, ForeignKey("cases.id", ondelete="CASCADE"), primary_key=True, autoincrement=False),
    Column("person", Characters, primary_key=True),
    Column("role", Characters, nullable=False),
    Column("chosen", NUMBER, nullable=False),
    Column("body", Text),
    Index("ix_parties_person_chosen", "person", "chosen"),
)

#: What happened in a case: `seq` counts from 0 without gaps; rows are only ever added, or deleted with their case.
events = Table(
    "events",
    metadata,
    Column("case_id", NUMBER, ForeignKey("cases.id", ondelete="CASCADE"), primary_key=True, autoincrement=False),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("body", Text, nullable=False),
)

#: Photos that somebody sent: `place` is where the channel finds one, `body` the picture itself once it was fetched.
photos = Table(
    "photos",
    metadata,
    Column("id", NUMBER, primary_key=True),
    Column("case_id", NUMBER, ForeignKey("cases.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("channel", Characters, nullable=False),
    Column("place", Text, nullable=False),
    Column("sent_at", Instant, nullable=False),
    Column("state", Characters, nullable=False),
    Column("attempts", Integer, nullable=False),
    Column("reason", Characters, nullable=False),
    Column("body", Text),
    Index("ix_photos_channel_state", "channel", "state"),
    sqlite_autoincrement=True,
)

#: What a secret lets somebody do, and until when: `secret` is its lookup hash, `body` what it is about.
grants = Table(
    "grants",
    metadata,
    Column("secret", Characters, primary_key=True),
    Column("kind", Characters, nullable=False, index=True),
    Column("case_id", NUMBER, ForeignKey("cases.id", ondelete="CASCADE"), index=True),
    Column("body", Text, nullable=False),
    Column("made_at", Instant, nullable=False),
    Column("until", Instant, nullable=False),
    Column("ended_at", Instant),
)

#: One row: the key of the lookup hashes, encrypted.
lookup_key = Table(
    "seals",
    metadata,
    Column("name", Characters, primary_key=True),
    Column("body", Text, nullable=False),
)

#: The key of a case or of a person, encrypted with the key file's; one that is thrown away takes along what was
#: encrypted with it.
keys = Table(
    "keys",
    metadata,
    Column("id", Characters, primary_key=True),
    Column("case_id", NUMBER, ForeignKey("cases.id", ondelete="CASCADE"), index=True),
    Column("person", Characters, index=True),
    Column("body", Text, nullable=False),
)

#: Keys that were thrown away, until that is written down beside the key file, too.
forgotten_keys = Table(
    "forgotten_keys",
    metadata,
    Column("id", Characters, primary_key=True),
    Column("at", Instant, nullable=False),
)

#: Where a channel reaches somebody. `live` is the outbox row that shows the open question; `gone_at` when the channel
#: said that nobody can be reached there any more.
conversations = Table(
    "conversations",
    metadata,
    Column("id", Characters, primary_key=True),
    Column("channel", Characters, nullable=False),
    Column("address", Text, nullable=False),
    Column("live", NUMBER),
    Column("gone_at", Instant),
)

#: What is in an index of the few messages that wait.
WAITING = text("state = 'waiting'")
#: Every message that was received, once: its key alone when it is done, all of it while it waits or was set aside.
inbox = Table(
    "inbox",
    metadata,
    Column("id", NUMBER, primary_key=True),
    Column("channel", Characters, nullable=False),
    Column("key", Characters, nullable=False),
    Column("conversation", Characters, nullable=False),
    Column("body", Text),
    Column("received_at", Instant, nullable=False),
    Column("state", Characters, nullable=False),
    Column("attempts", Integer, nullable=False),
    Column("reason", Characters, nullable=False),
    UniqueConstraint("channel", "key"),
    Index("ix_inbox_conversation_state", "conversation", "state"),
    Index("ix_inbox_state_received_at", "state", "received_at"),
    Index("ix_inbox_waiting", "conversation", "id", sqlite_where=WAITING, postgresql_where=WAITING),
    sqlite_autoincrement=True,
)

#: Every message that goes out, in the order of its number within a conversation.
outbox = Table(
    "outbox",
    metadata,
    Column("id", NUMBER, primary_key=True),
    Column("channel", Characters, nullable=False),
    Column("conversation", Characters, nullable=False),
    Column("kind", Characters, nullable=False),
    Column("about", NUMBER),
    Column("body", Text, nullable=False),
    Column("made_at", Instant, nullable=False),
    Column("state", Characters, nullable=False),
    Column("attempts", Integer, nullable=False),
    Column("not_before", Instant),
    Column("receipt", Text),
    Column("reason", Characters, nullable=False),
    Index("ix_outbox_conversation_state", "conversation", "state"),
    Index("ix_outbox_channel_state", "channel", "state"),
    sqlite_autoincrement=True,
)

#: How far a channel has read what its platform holds for it.
positions = Table(
    "positions",
    metadata,
    Column("channel", Characters, primary_key=True),
    Column("place", Text, nullable=False),
)

#: What a channel calls a picture that was uploaded once; `digest` is that of the picture's bytes.
pictures = Table(
    "pictures",
    metadata,
    Column("channel", Characters, primary_key=True),
    Column("digest", Characters, primary_key=True),
    Column("name", Characters, nullable=False),
)

#: Who works at the shop, and as what; `body` has their name and what they are doing. `ended_at` when they left.
staff = Table(
    "staff",
    metadata,
    Column("person", Characters, primary_key=True),
    Column("role", Characters, nullable=False),
    Column("body", Text, nullable=False),
    Column("since", Instant, nullable=False),
    Column("ended_at", Instant),
)

#: Cases that a person must look at: `holder` has taken it on, `until` when it sleeps; `room` is the hash of its thread
#: in a room of the staff's.
tickets = Table(
    "tickets",
    metadata,
    Column("case_id", NUMBER, ForeignKey("cases.id", ondelete="CASCADE"), primary_key=True, autoincrement=False),
    Column("state", Characters, nullable=False),
    Column("reason", Characters, nullable=False),
    Column("holder", Characters),
    Column("until", Instant),
    Column("opened_at", Instant, nullable=False),
    Column("room", Characters, index=True),
    Index("ix_tickets_state_opened_at", "state", "opened_at"),
)

#: Who did what: rows are only ever added, or deleted with their case.
deeds = Table(
    "deeds",
    metadata,
    Column("id", NUMBER, primary_key=True),
    Column("case_id", NUMBER, ForeignKey("cases.id", ondelete="CASCADE"), index=True),
    Column("person", Characters, nullable=False),
    Column("what", Characters, nullable=False),
    Column("at", Instant, nullable=False),
    Column("body", Text, nullable=False),
    sqlite_autoincrement=True,
)

#: Tools of the shop's that are not where they hang: `tool` is the shop's id, `body` says who has it and who gave it
#: out. A row goes when the tool comes home. One with `kept` hangs there and is kept for somebody until then.
loans = Table(
    "loans",
    metadata,
    Column("id", NUMBER, primary_key=True),
    Column("tool", Characters, nullable=False),
    Column("case_id", NUMBER, ForeignKey("cases.id", ondelete="SET NULL"), index=True),
    Column("since", Instant, nullable=False),
    Column("due", Instant),
    Column("body", Text, nullable=False),
    Column("kept", Instant),
    Index("ix_loans_tool", "tool"),
    sqlite_autoincrement=True,
)

#: Bikes that stand in the shop without their owners: `wanted` is when one is to be ready, `done_at` when its case was
#: closed; `body` says what it is, whose, and how that person is reached.
bikes = Table(
    "bikes",
    metadata,
    Column("case_id", NUMBER, ForeignKey("cases.id", ondelete="CASCADE"), primary_key=True, autoincrement=False),
    Column("since", Instant, nullable=False),
    Column("wanted", Instant),
    Column("done_at", Instant),
    Column("body", Text, nullable=False),
)

#: What people ask of the shop and the staff answer: a visit on a `day` (ISO 8601) in a `part` of it, or a `tool` kept
#: for them `until` a moment. `body` has what else they said about it, and what they were answered.
requests = Table(
    "requests",
    metadata,
    Column("id", NUMBER, primary_key=True),
    Column("case_id", NUMBER, ForeignKey("cases.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("kind", Characters, nullable=False),
    Column("day", Characters),
    Column("part", Characters),
    Column("tool", Characters),
    Column("until", Instant),
    Column("state", Characters, nullable=False),
    Column("asked_at", Instant, nullable=False),
    Column("body", Text, nullable=False),
    Index("ix_requests_kind_day", "kind", "day"),
    Index("ix_requests_tool", "tool"),
    sqlite_autoincrement=True,
)

#: Which of several processes does what only one may do at a time, such as serving a channel (`leases`).
leases = Table(
    "leases",
    metadata,
    Column("name", Characters, primary_key=True),
    Column("holder", Characters, nullable=False),
    Column("number", NUMBER, nullable=False),
    Column("until", Instant, nullable=False),
)
