#!/usr/bin/env bash
# Installs PySpark (345 MB) beside the package and runs the fleet in a cluster on this machine. Needs Java 17.
#   examples/fleet/run.sh [FOLDER] [ROWS]
set -euo pipefail
cd "$(dirname "$0")/../.."
folder=$(realpath -m "${1:-target/fleet}")
venv=$folder/venv
mkdir -p "$folder"
cargo build --release --locked -p pointage-cli
if [ ! -d "$venv" ]; then
  python3 -m venv "$venv"
  "$venv/bin/pip" --quiet install 'pyspark>=4,<5' numpy pandas pyarrow
fi
"$venv/bin/pip" --quiet install --force-reinstall --no-deps ./crates/python
# What executors get: the installed package as a folder. (A wheel in spark.submit.pyFiles stays a zip, from which Python
# loads no library.)
rm -rf "$folder/env"
"$venv/bin/python" - "$folder/env" <<'PYTHON'
import pathlib, shutil, sys, pointage
shutil.copytree(pathlib.Path(pointage.__file__).parent, pathlib.Path(sys.argv[1]) / "pointage")
PYTHON
tar -C "$folder/env" -czf "$folder/env.tar.gz" pointage
"$venv/bin/python" examples/fleet/fleet.py target/release/pointage "$folder/env.tar.gz" "$folder/run" ${2:+"$2"}
