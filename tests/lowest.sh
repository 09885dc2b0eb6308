#!/usr/bin/env bash
# The lowest versions that pyproject.toml allows, installed and tried: bash tests/lowest.sh [FOLDER]
set -euo pipefail
cd "$(dirname "$0")/.."
folder=${1:-$(mktemp -d)}
python3 -m venv --without-pip "$folder/venv"
python3 - <<'PY' >"$folder/lowest.txt"
import tomllib
with open("pyproject.toml", "rb") as file:
    told = tomllib.load(file)["project"]
for need in told["dependencies"]:
    print(need.replace(">=", "=="))
print("pytest", "hypothesis", "httpx", sep="\n")
PY
python3 -m pip --python "$folder/venv/bin/python" install -q -r "$folder/lowest.txt"
PYTHONPATH="$PWD" "$folder/venv/bin/python" -m pytest -o addopts= -o filterwarnings= -q --import-mode=importlib -m "not browser and not office and not cluster and not documents" \
    tests/records/test_read.py tests/records/book tests/records/test_odd_files.py tests/market/test_saved_fit.py \
    tests/market/test_market_fit.py tests/plan tests/decision/test_comparison.py tests/regions/test_region_file.py \
    tests/cli/test_faults.py
