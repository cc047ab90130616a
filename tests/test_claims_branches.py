"""Every sentence of the page about several branches that says what triagebot does, with the test that proves it."""

import pytest

from tests.claims import assert_exists, assert_nothing_is_left

PAGE = "deploy/branches.md"
SETTINGS, SERVE, COMMANDS, SHARING, WALLS, SCHEMAS = (
    *(f"tests/branches/test_{name}.py" for name in ("settings", "serve", "commands", "sharing", "walls")),
    "tests/store/test_schemas.py",
)
_WALLS = f"{WALLS}::test_no_branch_sees_anything_of_another"

ELSEWHERE = {
    "One triagebot can serve all branches of a chain.": (
        f"{SERVE}::test_somebody_who_talks_to_all_bots_has_a_case_at_each",
    ),
    "Each branch has its own bots, staff, tools, notes, cases and key, and sees nothing of the others.": (_WALLS,),
    "A branch takes about 6 MB of memory more, where a second triagebot takes about 118.": (
        "tests/bench/test_branches.py::test_another_branch_takes_little_memory",
    ),
    "One shop needs none of this: set `TRIAGEBOT_SHOP`, as before.": (
        f"{SETTINGS}::test_without_the_setting_there_is_one_shop_without_a_name",
    ),
    "Each is like `deploy/example-shop/`, and is called by a lowercase word.": (
        f"{SETTINGS}::test_what_is_wrong_with_every_branch_is_said_at_once",
    ),
    "A path in that file begins at the branch's folder.": (
        f"{SETTINGS}::test_a_branchs_own_settings_go_before_those_of_all",
    ),
    "These settings are each branch's own: the token, the webhook and the staff's group on Telegram, and the account "
    "and the staff's room on Matrix.": (f"{SETTINGS}::test_what_is_wrong_with_every_branch_is_said_at_once",),
    "A branch may also have its own `topic`, `language`, `matrix_server` and `web_frames`.": (
        f"{SETTINGS}::test_a_branchs_own_settings_go_before_those_of_all",
    ),
    "Everything else is set once for all branches.": (
        f"{SETTINGS}::test_what_is_wrong_with_every_branch_is_said_at_once",
    ),
    "Two branches with the same bot, account or room are refused.": (
        f"{SETTINGS}::test_what_only_one_branch_can_have_is_refused_to_two",
        f"{SERVE}::test_the_check_looks_at_every_branch",
    ),
    "Every fault in every branch is told at once, with its file, line and column.": (
        f"{SETTINGS}::test_what_is_wrong_with_every_branch_is_said_at_once",
        f"{SERVE}::test_the_problems_of_all_shops_are_told_at_once",
    ),
    "With systemd, secrets can be credentials in place of files: "
    "`LoadCredential=harbour.telegram-token:/etc/triagebot/harbour.token`, and the same with `matrix-password` or "
    "`matrix-token`.": (f"{SETTINGS}::test_secrets_may_be_credentials_of_the_service_manager",),
    "`/health`, `/ready`, `/metrics` and the log name the branch.": (
        f"{SERVE}::test_those_who_watch_see_all_branches_by_name",
        f"{SERVE}::test_the_log_says_of_which_branch_it_speaks",
    ),
    "`/b/harbour/health` is about one branch.": (f"{SERVE}::test_those_who_watch_see_all_branches_by_name",),
    "A key opens the cases of its own branch only.": (
        f"{COMMANDS}::test_a_backup_is_of_one_branch_and_fits_only_its_key",
    ),
    "A command about cases, staff or backups is about one branch, and asks for `--branch`: "
    "`triagebot staff invite --branch harbour`.": (f"{COMMANDS}::test_a_command_about_one_branch_asks_which",),
    "`check`, `doctor` and `serve --check` look at all branches.": (
        f"{COMMANDS}::test_the_check_names_the_file_of_every_shop",
        f"{COMMANDS}::test_the_doctor_looks_at_all_or_at_one",
        f"{SERVE}::test_the_check_looks_at_every_branch",
    ),
    "`triagebot report --all-branches` shows their figures side by side, with the sum.": (
        f"{COMMANDS}::test_a_report_of_all_is_the_sum_side_by_side",
    ),
    "They join each branch by its own bot, with an invitation from that branch.": (
        f"{SHARING}::test_staff_hear_of_the_branches_that_name_theirs",
        f"{COMMANDS}::test_what_is_done_at_one_branch_is_done_at_no_other",
    ),
    "What they do at one is not known at the other.": (_WALLS,),
    "A branch can let others ask what hangs on its wall.": (
        f"{SHARING}::test_staff_hear_of_the_branches_that_name_theirs",
    ),
    'When somebody on the staff of `high-street` asks "who has the big four?", they also hear that it hangs at the '
    "harbour, where, and whether it is in.": (
        f"{SHARING}::test_staff_hear_of_the_branches_that_name_theirs",
        "tests/counter/test_other_branches.py::test_who_has_a_tool_is_answered_for_the_others_too",
    ),
    "They do not hear who has it.": (
        "tests/counter/test_other_branches.py::test_of_one_that_is_out_there_nobody_hears_who_has_it",
    ),
    "If both are to see each other's tools, each names the other.": (
        f"{SHARING}::test_staff_hear_of_the_branches_that_name_theirs",
    ),
    "Conversations go on where they stood.": (
        f"{SERVE}::test_a_shop_becomes_a_branch_with_all_that_it_has",
        f"{SCHEMAS}::test_the_cases_of_one_shop_become_those_of_a_branch",
    ),
    "triagebot does not start while cases of one shop are left in the data folder.": (
        f"{SERVE}::test_the_cases_of_one_shop_are_not_left_behind",
    ),
}

ADVICE = {
    "For the person who runs it.",
    "Each branch has people and tools of its own, and somebody looks after the machine for all of them.",
    "Make a folder with a shop's folder for each branch.",
    "Get a bot for each branch.",
    "Put its token into a file that only triagebot's user can read.",
    "Write what only this branch has into `settings.toml` in its folder.",
    "Set `TRIAGEBOT_SHOPS` to the folder with all of them, and run `triagebot serve --check`.",
    "Keep copies of all key files.",
    "For backups, have the nightly job run `triagebot backup FOLDER/harbour --keep 30 --branch harbour` for each "
    "branch.",
    "In its `shop.yaml`:",
    "Stop triagebot, and take a backup.",
    "Move everything in the data folder to `branches/high-street/` in it, if the shop is to be called `high-street`.",
    "Rename the key file: `triagebot.key` to `triagebot.high-street.key`.",
    "Do the same with the file `.forgotten` beside it, if there is one.",
    "In PostgreSQL: `ALTER SCHEMA public RENAME TO branch_high_street; CREATE SCHEMA public;`",
    "Set it up as above, and start triagebot.",
    "Old links to pages end, since the pages are at another address; people get new ones from the bot.",
}


def test_every_sentence_is_proved_or_is_advice() -> None:
    assert_nothing_is_left(PAGE, ELSEWHERE, ADVICE)


@pytest.mark.parametrize("proof", sorted({proof for proofs in ELSEWHERE.values() for proof in proofs}))
def test_a_proof_that_is_named_exists(proof: str) -> None:
    assert_exists(proof)
