#!/usr/bin/env bash
# Starts triagebot with the arguments given, from any folder; sets up .venv beside it first where that is needed.
# Needs bash and Python 3.11 or newer; the network only to set up.
set -euo pipefail

here=${BASH_SOURCE[0]%/*}
[[ $here != "${BASH_SOURCE[0]}" ]] || here=.
root=$(CDPATH='' cd -P -- "$here/.." && pwd)

# shellcheck source=deploy/setup.sh
source "$root/deploy/setup.sh"
set_up "$root" deploy
exec "$root/.venv/bin/triagebot" "$@"
