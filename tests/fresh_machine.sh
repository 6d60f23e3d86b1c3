#!/usr/bin/env bash
# As on a machine that has only Python: the README's two commands word for word, and the wheel by itself with the
# lowest versions of its dependencies that pyproject.toml allows.
#
#     tests/fresh_machine.sh [--quick] [--lowest] [PYTHON]
#
# PYTHON: the interpreter, python3 if none is named; for the lowest versions 3.11 or 3.12
# --quick: of the tests only those of the commands and files, instead of all
# --lowest: only the part with the lowest versions
set -euo pipefail

cd "$(dirname "${BASH_SOURCE[0]}")/.."
root="$PWD"
quick=""
lowest_only=""
python="python3"
for word in "$@"; do
    case "$word" in
        --quick) quick=1 ;;
        --lowest) lowest_only=1 ;;
        *) python="$word" ;;
    esac
done
scratch="$(mktemp -d)"
trap 'rm -rf "$scratch"' EXIT
unset PYTHONPATH VIRTUAL_ENV

say() { printf '\n== %s\n' "$*"; }
fail() { printf 'fresh_machine: %s\n' "$*" >&2; exit 1; }

# python3 is the chosen interpreter, in a folder that holds what git knows and nothing else
mkdir "$scratch/bin" "$scratch/project" "$scratch/empty"
printf '#!/bin/sh\nexec "%s" "$@"\n' "$("$python" -c 'import sys; print(sys.executable)')" > "$scratch/bin/python3"
chmod +x "$scratch/bin/python3"
PATH="$scratch/bin:$PATH"
git ls-files -z | tar --null --files-from=- -cf - | tar -xf - -C "$scratch/project"
say "$(python3 --version)"

readme_command() { # readme_command END
    local found
    found="$(sed -n "s/^    \(python3 -m venv .*$1\)\$/\1/p" "$scratch/project/README.md")"
    [ -n "$found" ] && [ "$(printf '%s\n' "$found" | wc -l)" = 1 ] || fail "README.md holds no single command that ends in $1"
    printf '%s' "$found"
}

if [ -z "$lowest_only" ]; then
    cd "$scratch/project"
    demo="$(readme_command 'sealtune demo')"
    say "$demo"
    bash -c "$demo"
    [ -s sealtune-demo.html ] || fail "demo wrote no page"
    tests="$(readme_command '-m pytest')"
    [ -z "$quick" ] || tests="$tests tests/end_to_end tests/files"
    say "$tests"
    bash -c "$tests"
    .venv/bin/python -m pip --quiet check || fail "the newest versions do not go together"
    .venv/bin/sealtune check recordings/left recordings/right --json "$scratch/newest.json" > /dev/null || [ $? = 1 ]
fi

say "the wheel with the lowest versions that pyproject.toml allows"
python3 -m venv "$scratch/low"
"$scratch/low/bin/pip" wheel --quiet --no-deps --wheel-dir "$scratch/wheel" "$scratch/project"
rm -rf "$scratch/project/src"
python3 - "$scratch/project/pyproject.toml" > "$scratch/lowest.txt" <<'PYTHON'
import re, sys, tomllib
for wanted in tomllib.load(open(sys.argv[1], "rb"))["project"]["dependencies"]:
    print(re.sub(">=", "==", wanted))
PYTHON
echo "pyparsing<3.2" >> "$scratch/lowest.txt" # matplotlib 3.8 calls what newer ones only warn of, and warnings are errors
cat "$scratch/lowest.txt"
"$scratch/low/bin/pip" install --quiet "$scratch"/wheel/sealtune-*.whl -c "$scratch/lowest.txt"
(
    cd "$scratch/empty"
    PATH="$scratch/low/bin:$PATH"
    where="$(python -c 'import sealtune; print(sealtune.__file__)')"
    case "$where" in "$scratch"/low/*) ;; *) fail "the wheel's test would have used $where" ;; esac
    sealtune demo > demo.txt
    [ -s sealtune-demo.html ] || fail "demo wrote no page"
    cat demo.txt
    code=0
    sealtune check "$scratch/project/recordings/left" "$scratch/project/recordings/right" --json both.json > /dev/null || code=$?
    [ "$code" = 1 ] || fail "check of the pair left with $code instead of 1"
)
if [ -z "$lowest_only" ]; then
    say "oldest against newest versions"
    python3 - "$scratch/newest.json" "$scratch/empty/both.json" <<'PYTHON'
import json, sys
newest, oldest = ([json.loads(line) for line in open(path)] for path in sys.argv[1:])
for new, old in zip(newest, oldest, strict=True):
    for part, key in (("tuning", "hz"), ("tuning", "low_hz"), ("box", "q"), ("curve", "saddle_hz"), ("driver", "fs_hz")):
        a, b = new[part][key], old[part][key]
        print(f"{new['cabinet']:6} {part}.{key:9} {a:.8g} {b:.8g}")
        assert abs(a / b - 1.0) < 5e-6, "more than six digits apart"
    assert (new["verdict"], new["findings"][:1] == []) == (old["verdict"], old["findings"][:1] == [])
PYTHON
fi
say "the tests with the lowest versions, src removed"
# the tests read standard output and error apart, which click's test runner does from 8.2 on; the program does not care
sed -i '/^click/d' "$scratch/lowest.txt"
"$scratch/low/bin/pip" install --quiet -c "$scratch/lowest.txt" pytest pytest-xdist hypothesis lmfit scikit-rf pypdf networkx "click>=8.2"
cd "$scratch/project"
parts="tests/end_to_end tests/files"
[ -n "$quick" ] || parts="$parts tests/analysis tests/design tests/independent tests/judgement tests/physics tests/published tests/report tests/signals tests/virtual"
# shellcheck disable=SC2086
"$scratch/low/bin/python" -m pytest -q $parts
say "done"
