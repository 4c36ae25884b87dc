# Sourced by ./run and ./check: makes .venv in the checkout and keeps it as pyproject.toml says.
# Set EXTRAS first: empty, or for example "[dev]".
set -eu
extras="${EXTRAS:-}"
python=""
for candidate in python3.11 python3.12 python3.13 python3; do
    if command -v "$candidate" >/dev/null 2>&1 && "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))'; then
        python="$candidate"
        break
    fi
done
if [ -z "$python" ]; then
    echo "Python 3.11 or later is needed: apt install python3 python3-venv" >&2
    exit 1
fi
if ! "$python" -c 'import ensurepip, venv' 2>/dev/null; then
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
        echo "Installing python3-venv." >&2
        apt-get update -qq && apt-get install -y -qq python3-venv >/dev/null
    else
        echo "Python's venv is missing. Install it once with: sudo apt install python3-venv" >&2
        exit 1
    fi
fi
wanted="$extras $("$python" -c 'import hashlib, sys; print(hashlib.sha256(open("pyproject.toml", "rb").read()).hexdigest())')"
have=$(cat .venv/ribwright-setup 2>/dev/null || true)
# an environment set up for the tests also serves ./run
if [ "$have" != "$wanted" ] && { [ -n "$extras" ] || [ "$have" != "[dev,proof,scale] ${wanted# }" ]; }; then
    [ -x .venv/bin/python ] || "$python" -m venv .venv
    echo "Setting up .venv (once; about 750 MB on disk)." >&2
    # uv takes about a sixth of pip's work; where it can't be had, or can't reach what pip is set up to reach, pip does it
    export UV_SYSTEM_CERTS=1
    if [ -n "${PIP_INDEX_URL:-}" ]; then export UV_DEFAULT_INDEX="${UV_DEFAULT_INDEX:-$PIP_INDEX_URL}"; fi
    if ! { .venv/bin/python -m pip install --quiet --disable-pip-version-check uv &&
        .venv/bin/uv pip install --quiet --python .venv/bin/python -e ".$extras"; }; then
        echo "Once more with pip alone; this takes longer." >&2
        .venv/bin/python -m pip install --quiet --disable-pip-version-check -e ".$extras"
    fi
    printf '%s' "$wanted" > .venv/ribwright-setup
fi
# numba keeps compiled code by the date of the file that asked for it, not of the files which that one calls
find src -name '*.nbi' | while read -r kept; do
    if [ -n "$(find src -name '*_compiled.py' -newer "$kept" -print -quit)" ]; then
        find src \( -name '*.nbi' -o -name '*.nbc' \) -delete
        break
    fi
done
