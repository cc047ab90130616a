#!/usr/bin/env bash
# Every check that a change must pass, for people and for CI alike; sets up .venv first where that is needed.
# Arguments go to pytest and narrow it: bash tests/run.sh -k store
set -euo pipefail

here=${BASH_SOURCE[0]%/*}
[[ $here != "${BASH_SOURCE[0]}" ]] || here=.
root=$(CDPATH='' cd -P -- "$here/.." && pwd)

# shellcheck source=deploy/setup.sh
source "$root/deploy/setup.sh"
set_up "$root" tests
cd "$root"

# What whoever runs this has set for a triagebot of their own is none of the tests' business.
# shellcheck disable=SC2086
unset ${!TRIAGEBOT_@}

failed=()

# part NAME COMMAND...: runs it, and remembers the name if it fails, so that one run shows all that is wrong.
part() {
    local name=$1
    shift
    printf '== %s\n' "$name"
    "$@" </dev/null || failed+=("$name")
}

python=.venv/bin/python
part "ruff check" .venv/bin/ruff check --quiet .
part "ruff format" .venv/bin/ruff format --check --quiet .
part "mypy" .venv/bin/mypy
part "triagebot check" .venv/bin/triagebot check
if (($# == 0)); then
    # Figures are taken with nothing else running beside them; the rest shares two processes.
    part "benches" "$python" -m pytest -q -ra tests/bench -m "not campaign"
    # The long crash campaigns and the Telegram bench run by themselves: bash tests/run.sh -m campaign
    part "tests" "$python" -m pytest -q -ra -n 2 --ignore=tests/bench -m "not campaign"
else
    part "tests" "$python" -m pytest -q -ra -n 2 "$@"
fi

if ((${#failed[@]})); then
    printf 'FAILED:'
    printf ' [%s]' "${failed[@]}"
    printf '\n'
    exit 1
fi
