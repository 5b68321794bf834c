#!/usr/bin/env bash
# What takes too long for every change: the slow tests, and every door fuzzed with a new seed.
#
#   tests/nightly.sh [SECONDS of fuzzing for each door, default 300]
#
# Uses the environment that the test command of the README makes.
set -uo pipefail
cd "$(dirname "$0")/.."
export OPENBLAS_NUM_THREADS=1
status=0
.venv/bin/python -m pytest -q -m slow --timeout 1800 || status=1
.venv/bin/python tests/fuzz/fuzz_doors.py --seconds "${1:-300}" --seed "$(date +%Y%m%d)" || status=1
exit $status
