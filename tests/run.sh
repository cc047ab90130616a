#!/usr/bin/env bash
# Every check that a change must pass, for people and for CI alike; sets up .venv first where that is needed.
# Arguments go to pytest and narrow it: bash tests/run.sh -k store
#
# What takes longer is run by itself:
#   bash tests/run.sh -m campaign                     hundreds of kills, figures taken on an idle machine, and all
#                                                     libraries unpacked on a fresh one
#   HYPOTHESIS_PROFILE=long bash tests/run.sh -k ...  many more cases, other ones each time
#   TRIAGEBOT_TEST_DATABASE=postgresql bash tests/run.sh -m "not campaign" tests/{delivery,counter,helping,handover}
#                                                     all tests of these rooms with their stores in PostgreSQL
set -euo pipefail

here=${BASH_SOURCE[0]%/*}
[[ $here != "${BASH_SOURCE[0]}" ]] || here=.
root=$(CDPATH='' cd -P -- "$here/.." && pwd)

# shellcheck source=deploy/setup.sh
source "$root/deploy/setup.sh"
set_up "$root" tests
cd "$root"

# The settings that somebody has for a triagebot of their own are none of the tests' business.
[[ -z ${TRIAGEBOT_TEST_DATABASE-} ]] || export TESTS_DATABASE=$TRIAGEBOT_TEST_DATABASE
# shellcheck disable=SC2086
unset ${!TRIAGEBOT_@}
# Hundreds of processes start here: none of them should compile the same files again, or start threads to wait in.
unset PYTHONDONTWRITEBYTECODE
export OPENBLAS_NUM_THREADS=1

python=.venv/bin/python
# What tests write goes into memory where there is plenty and programs may be started from it: on a disk most of them
# wait for it most of the time. Who kills a process loses nothing there either: what it wrote outlives it.
scratch=$(mktemp -d)
if [[ -d /dev/shm && -w /dev/shm ]] && (($(df -Pm /dev/shm | awk 'NR == 2 { print $4 }') > 4096)); then
    rmdir "$scratch"
    scratch=$(mktemp -d /dev/shm/tests-XXXXXX)
    printf '#!/bin/sh\n' >"$scratch/starts"
    chmod +x "$scratch/starts"
    if "$scratch/starts" 2>/dev/null; then export TMPDIR=$scratch; fi
fi
log=$scratch/log
trap 'rm -rf "$scratch"' EXIT
failed=()

# part NAME COMMAND...: runs it, and remembers the name if it fails, so that one run shows all that is wrong.
part() {
    local name=$1
    shift
    printf '== %s\n' "$name"
    "$@" </dev/null || failed+=("$name")
}

# Reads the code without running it; runs in a process of its own, and tells what failed by its status.
read_code() {
    part "ruff check" .venv/bin/ruff check --quiet .
    part "ruff format" .venv/bin/ruff format --check --quiet .
    part "triagebot check" .venv/bin/triagebot check
    part "mypy" .venv/bin/mypy
    ((${#failed[@]} == 0))
}

# Figures are taken with nothing else running beside them.
if (($# == 0)); then
    part "benches" "$python" -m pytest -q -ra tests/bench -m "not campaign"
    set -- --ignore=tests/bench -m "not campaign"
fi
# The tests wait for other processes now and then; meanwhile the code is read, and what that says is shown at the end.
read_code >"$log" 2>&1 &
reading=$!
# pytest prepares each test file once and keeps it. In a fresh checkout every worker would do so for all of them at the
# same time, so one does it first.
compgen -G "tests/__pycache__/*-pytest-*.pyc" >/dev/null || "$python" -m pytest -q --collect-only tests >/dev/null || true
# Three workers keep two cores busy, since a worker often waits for a process that it started. Who gets what, and what is
# started once for many tests, is decided in tests/conftest.py.
part "tests" "$python" -m pytest -q -ra -n 3 --durations 20 "$@"
wait "$reading" || failed+=("reading the code")
cat "$log"

if ((${#failed[@]})); then
    printf 'FAILED:'
    printf ' [%s]' "${failed[@]}"
    printf '\n'
    exit 1
fi
