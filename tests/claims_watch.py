"""What `deploy/README.md` says about watching the bot, keys, backups and updating, with the tests that prove it."""

KEEPING, TELEGRAM = "tests/keeping", "tests/channels/telegram"

WATCHED = {
    "On a terminal, which is gone then, it ends the bot.": (
        f"{TELEGRAM}/test_serve.py::test_on_a_terminal_hanging_up_ends_it",
    ),
    "`TRIAGEBOT_LOG_LEVEL` says how much is logged, and `TRIAGEBOT_LOG_FORMAT=json` makes each line an object.": (
        "tests/test_logs.py::test_json_is_one_object_a_line_with_its_time_in_utc",
        "tests/test_logs.py::test_a_level_and_what_is_heavier_is_logged_and_of_libraries_only_what_is_wrong",
    ),
    "The log has no words, names or addresses of people, and no tokens.": (
        f"{TELEGRAM}/test_serve.py::test_it_serves_until_it_is_told_to_stop_and_logs_nothing_personal",
        "tests/test_logs.py::test_an_error_is_told_by_its_kind_and_never_by_its_words",
    ),
    "SIGTERM ends the bot: what is being sent gets five seconds, and the rest waits on the disk.": (
        f"{TELEGRAM}/test_serve.py::test_it_serves_until_it_is_told_to_stop_and_logs_nothing_personal",
    ),
    "SIGHUP starts it again with the settings, topic and shop as they are now; if that would fail, the log says why "
    "and the bot goes on as it is.": (
        f"{TELEGRAM}/test_serve.py::test_hanging_up_starts_it_again_with_what_is_new_or_is_refused_with_a_word",
    ),
    "`/health` says whether the process is well: its writer lives, and the database is still where it was opened.": (
        f"{KEEPING}/test_watch.py::test_another_database_in_its_place",
        f"{KEEPING}/test_watch.py::test_a_writer_that_ended",
    ),
    "Both answer 200, or 503 when something is wrong, with a row for each thing that was looked at and what to do "
    "about it.": (f"{TELEGRAM}/test_serve.py::test_with_the_data_folder_moved_away_both_addresses_say_so",),
    "From elsewhere, or through a proxy, only `ok` is shown.": (
        f"{KEEPING}/test_watch.py::test_who_is_near_sees_the_rows_and_all_others_whether_all_is_well",
    ),
    "`/metrics` has the figures for Prometheus, for this machine and its private networks: what waits, how old the "
    "oldest is and what was set aside, by channel; how long ago each platform answered; what was received, sent and "
    "refused; the time pages take.": (
        "tests/pages/test_app.py::test_figures_are_shown_to_this_machine_and_its_network_only",
        "tests/delivery/test_metrics.py::test_every_count_has_words_and_is_told_as_it_stands",
        f"{KEEPING}/test_watch.py::test_the_figures_count_what_waits_and_what_was_set_aside",
    ),
    "The rules in [alerts.yaml](alerts.yaml) go by them.": (
        f"{KEEPING}/test_watch.py::test_the_rules_name_only_figures_that_there_are",
    ),
}

KEYS = {
    "People's words and addresses are encrypted in the database.": (
        "tests/store/test_encryption.py::test_what_is_personal_cannot_be_read_in_the_file",
    ),
    "The key lies outside the data folder (`TRIAGEBOT_KEY_FILE`).": (
        "tests/store/test_encryption.py::test_a_key_in_the_data_folder",
    ),
    "**Back up both, and keep them apart**: the data folder without the key cannot be read.": (
        "tests/store/test_encryption.py::test_a_key_that_is_lost",
    ),
    "`triagebot backup FILE` writes one encrypted file while the bot runs, and checks the database first.": (
        f"{KEEPING}/test_backup.py::test_it_is_taken_while_others_write_and_holds_one_moment",
        f"{KEEPING}/test_backup.py::test_nothing_of_it_can_be_read_without_the_key",
        f"{KEEPING}/test_backup.py::test_of_a_damaged_database_there_is_none",
    ),
    "In place of a file, name a folder of backups: each gets its date, and with `--keep 30` the oldest go.": (
        f"{KEEPING}/test_backup.py::test_a_folder_of_backups_keeps_the_newest",
    ),
    "The key is not in it, but the name of the key is (16 letters and digits): `restore` says which key a backup "
    "needs, also years after that key was changed.": (
        f"{KEEPING}/test_backup.py::test_it_names_the_key_that_opens_it_also_when_that_was_retired",
    ),
    "`triagebot restore FILE --data DIR` puts a backup back into an empty folder.": (
        f"{KEEPING}/test_restore.py::test_everything_comes_back_for_its_owner_alone",
        f"{KEEPING}/test_restore.py::test_nothing_is_restored_over_anything",
    ),
    "What was still to be sent is set aside, since most of it went out.": (
        f"{KEEPING}/test_restore.py::test_what_was_still_to_be_sent_is_set_aside_and_numbers_go_on_further",
    ),
    "To update, stop `serve`, take the new version (`git pull`), and start it; the database is brought up to date at "
    "the start, and an older version refuses a newer database.": (
        "tests/store/test_encryption.py::test_a_database_from_before_is_encrypted_whole",
        "tests/test_commands_refused.py::test_a_database_of_a_newer_version",
    ),
    "To change the key, stop `serve`, run `triagebot key renew`, and start it again.": (
        "tests/store/test_key_rotation.py::test_a_new_key_and_then_the_old_one_taken_away",
    ),
    "Some day when it is stopped, run `triagebot key retire`: after that the old key is gone and backups from before "
    "need the old key file.": ("tests/store/test_key_rotation.py::test_a_new_key_and_then_the_old_one_taken_away",),
}
