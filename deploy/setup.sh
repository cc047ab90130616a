# Sourced by deploy/run.sh and tests/run.sh; defines one function for them:
#
#   set_up ROOT KIND    makes ROOT/.venv hold ROOT/KIND/requirements.txt and the project itself; KIND: deploy or tests
#
# What is decided here and nowhere else:
# - which Python is used: the first of `pythons` that runs and is new enough, or the one named by $PYTHON and no other;
# - what "set up" means: .venv/KIND.stamp holds, to the letter, the place, the requirements and the pyproject.toml that
#   .venv was made from. It is written last, so whatever was cut off half-way has no stamp and is made anew;
# - one at a time: whoever comes second waits on .venv.lock, and then finds the work done. Python takes the lock on the
#   shell's own file handle, so it needs no extra program, and it ends with the shell however that ends.
#
# Quiet when all is well but for one line on standard error when there is something to do: standard output and standard
# input belong to the program that is started afterwards.

pythons=(python3.13 python3.12 python3.11 python3.14 python3 python)

# Prints the Python behind a virtual environment, in case that one is about to be made anew.
suitable='import sys; assert sys.version_info >= (3, 11); print(getattr(sys, "_base_executable", sys.executable))'

say() { printf 'triagebot: %s\n' "$*" >&2; }

set_up() {
    local root=$1 kind=$2
    if [[ ! -r $root/deploy/requirements.txt || ! -r $root/$kind/requirements.txt || ! -r $root/pyproject.toml ]]; then
        say "$root is not the whole project: its requirements.txt or pyproject.toml is missing"
        return 1
    fi
    is_set_up || make_ready </dev/null
}

wanted() { printf '%s\n%s\n%s' "$root" "$(<"$root/$1/requirements.txt")" "$(<"$root/pyproject.toml")"; }

is_set_up() {
    local stamp=$root/.venv/$kind.stamp
    [[ -x $root/.venv/bin/triagebot && -x $root/.venv/bin/python && -f $stamp && $(<"$stamp") == "$(wanted "$kind")" ]]
}

make_ready() {
    local python state=0
    find_python || return 1
    if [[ ! -w $root ]]; then
        say "cannot write in $root: set it up once as the user that owns it"
        return 1
    fi
    exec 9>>"$root/.venv.lock"
    # A file system without locks is no reason to stop: then two at once are not kept apart, and that is all.
    "$python" -c 'import fcntl; fcntl.flock(9, fcntl.LOCK_EX)' 2>/dev/null || true
    trap 'exit 130' INT
    trap 'exit 143' TERM
    if ! is_set_up; then
        say "setting up $root/.venv (once, and again when the requirements change) ..."
        fill_again || fill_anew || state=1
    fi
    trap - INT TERM
    exec 9>&-
    return "$state"
}

find_python() {
    local name needs
    local names=("${pythons[@]}")
    if [[ -n ${PYTHON:-} ]]; then
        names=("$PYTHON")
    fi
    for needs in "import ensurepip, venv" ""; do
        for name in "${names[@]}"; do
            if python=$("$name" -c "$suitable"$'\n'"$needs" 2>/dev/null); then
                return 0
            fi
        done
    done
    say "needs Python 3.11 or newer; none of these is: ${names[*]}." \
        "Install one, or name yours in front: PYTHON=/path/to/python3 bash $kind/run.sh"
    return 1
}

# Brings a .venv that was whole up to date; fails where there is none, and then it must be made anew.
fill_again() {
    local stamp place whole=no
    for stamp in "$root"/.venv/*.stamp; do
        if [[ -f $stamp ]] && IFS= read -r place <"$stamp" && [[ $place == "$root" ]]; then
            whole=yes
        fi
    done
    [[ $whole == yes ]] && "$root/.venv/bin/python" -c "$suitable" >/dev/null 2>&1 || return 1
    rm -f "$root"/.venv/*.stamp
    fill 2>/dev/null
}

fill_anew() {
    rm -rf "$root/.venv"
    if "$python" -c 'import ensurepip, venv' 2>/dev/null; then
        "$python" -m venv "$root/.venv" >&2 || return 1
    elif uv --version >/dev/null 2>&1; then
        uv venv --quiet --python "$python" "$root/.venv" || return 1
    else
        say "$python lacks its venv module: install that (Debian and Ubuntu: apt install python3-venv)"
        return 1
    fi
    if ! fill; then
        say "could not set up (the reason is above). This once it needs the network; nothing outside .venv has changed."
        return 1
    fi
}

# Installs everything, with uv where that works, for speed, else with pip; then says so in the stamps.
fill() {
    local log=$root/.venv/setup.log
    if ! { uv --version && with_uv; } >"$log" 2>&1 && ! with_pip >"$log" 2>&1; then
        tail -n 30 "$log" >&2
        return 1
    fi
    # An editable install compiles nothing of the project itself, and a start must not wait for that; nor for the words,
    # which the first message compiles.
    "$root/.venv/bin/python" -m compileall -q "$root/triagebot" >/dev/null 2>&1 || true
    "$root/.venv/bin/python" -m triagebot ask hello >/dev/null 2>&1 || true
    wanted deploy >"$root/.venv/deploy.stamp"
    wanted "$kind" >"$root/.venv/$kind.stamp" # the requirements of the tests include those of deploy
}

# What runs in a shop is compiled here, since a start must not wait for that. Tests use few modules of many libraries and
# keep what they compile, so for them it would be time lost.
with_uv() {
    local install=(uv pip install --python "$root/.venv/bin/python")
    [[ $kind == tests ]] || install+=(--compile-bytecode)
    install_all
}

with_pip() {
    local install=("$root/.venv/bin/python" -m pip --disable-pip-version-check --no-input install --quiet)
    [[ $kind != tests ]] || install+=(--no-compile)
    install_all
}

install_all() {
    "${install[@]}" --require-hashes --only-binary :all: --requirement "$root/$kind/requirements.txt" &&
        "${install[@]}" --no-deps --no-build-isolation --editable "$root"
}
