"""The revisions of the database, oldest first: the one list that says whether a database is ours, older or newer.

It is kept apart from the migrations themselves so that an up-to-date database is recognised without loading the
migration library. Each entry has its file in `migrations/versions/`.
"""

REVISIONS = ("0001", "0002", "0003", "0004", "0005")

NEWEST = REVISIONS[-1]

#: From this one on, what is personal is closed.
SEALED = "0002"
