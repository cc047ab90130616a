"""What the page for the person who runs it says of what is kept of people, with the test that proves it."""

KEEPING = "tests/keeping"

KEPT = {
    'Anybody who says "privacy" in a chat is told the same.': (
        f"{KEEPING}/test_retention.py::test_privacy_says_of_every_row_what_why_and_how_long",
    ),
    "A shop keeps things for less with a line `keep: {cases: 365}` in `shop.yaml`.": (
        f"{KEEPING}/test_retention.py::test_a_shop_keeps_things_for_less",
    ),
    "Once an hour `triagebot serve` deletes what is due, a few rows at a time.": (
        f"{KEEPING}/test_retention.py::test_serving_deletes_by_itself_what_is_due",
        f"{KEEPING}/test_retention.py::test_many_go_some_at_a_time",
    ),
    "A case stays while a member has it, its bike is in the shop, or a tool is out on it.": (
        f"{KEEPING}/test_retention.py::test_a_case_that_is_in_use_stays_however_old_it_is",
    ),
    "`/metrics` counts what was deleted (`triagebot_tidied_total`).": (
        "tests/delivery/test_metrics.py::test_every_count_has_words_and_is_told_as_it_stands",
        f"{KEEPING}/test_retention.py::test_serving_deletes_by_itself_what_is_due",
    ),
    "Each person and each case has a key of its own, which lies in the database, encrypted with the one in the "
    "key file, and is thrown away when they are forgotten.": (
        "tests/store/test_person_keys.py::test_a_case_and_its_person_have_a_key_each",
        "tests/store/test_person_keys.py::test_a_copy_from_before_cannot_be_read_without_its_key",
    ),
    "People who were forgotten since the backup are forgotten again: `triagebot.key.forgotten` beside the key file "
    "lists which keys were thrown away, and every backup puts a copy of that list beside itself.": (
        "tests/store/test_person_keys.py::test_an_older_backup_does_not_bring_back_who_was_forgotten",
    ),
}
