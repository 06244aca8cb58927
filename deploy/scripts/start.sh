# Sourced by the commands in deploy/: finds a Python, makes or reuses the environment, goes to the
# checkout, and leaves the environment's interpreter in $python. Plain sh, so that it runs anywhere.

root=$(CDPATH='' cd -- "$(dirname -- "$(readlink -f -- "$0" 2>/dev/null || echo "$0")")/.." && pwd) || exit 1

a_python() {
    for name in "${TALLYGROVE_PYTHON:-python3}" python3.14 python3.13 python3.12 python3.11 python /usr/bin/python3; do
        if "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            echo "$name"
            return 0
        fi
    done
    found=$(python3 --version 2>&1) || found="no python3"
    echo "Tallygrove needs Python 3.11 or newer; this machine has: $found." >&2
    echo "Install one (on Debian or Ubuntu: apt-get install python3 python3-venv), or name it: TALLYGROVE_PYTHON=/path/to/python3" >&2
    return 1
}

environment() { # environment LOCKFILE: set $python to an interpreter that has what the lock file names
    base=$(a_python) || exit 1
    python=$("$base" "$root/deploy/scripts/bootstrap.py" "$root/$1") || exit 1
    cd "$root" || exit 1
    export PYTHONUNBUFFERED=1
}
