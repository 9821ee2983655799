#!/usr/bin/env bash
# Runs the benchmarks and the same work with numpy and scipy, one after the other on this machine, and
# prints the ratios. Arguments go to criterion, such as `--quick`.
set -euo pipefail
cd "$(dirname "$0")/.."

# Without the program's own dependencies: none of them is measured.
cargo bench --locked --no-default-features --features json,learn --benches -- --noplot "$@"
python3 benches/peers.py "${CARGO_TARGET_DIR:-target}"
