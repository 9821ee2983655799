#!/usr/bin/env bash
# Runs the benchmarks and the same work with numpy, scipy and C, one after the other on this machine, and
# prints the ratios. Arguments go to criterion, such as `--quick`.
set -euo pipefail
cd "$(dirname "$0")/.."
target=${CARGO_TARGET_DIR:-target}

# The library without the program's own dependencies, then the program.
cargo bench --locked -p pointage --benches -- --noplot "$@"
cargo bench --locked -p pointage-cli --bench plan -- --noplot "$@"
cargo bench --locked -p pointage-cli --bench batch
"${CC:-cc}" -O3 -o "$target/rate-in-c" benches/rate.c
python3 benches/peers.py "$target"
