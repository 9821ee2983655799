#!/usr/bin/env bash
# Builds the JavaScript package and the page in crates/web: pointage.wasm, the smaller pointage-without-learn.wasm,
# pointage.d.ts and dist/pointage.html.
# Needs Rust with the target wasm32-unknown-unknown, which rustup adds, and Node 20 or later; ends with 3 without them.
set -euo pipefail
cd "$(dirname "$0")/../.."
target=wasm32-unknown-unknown
missing() { echo "missing: $*" >&2; exit 3; }

command -v cargo > /dev/null || missing "cargo; install Rust 1.89 or later"
command -v npm > /dev/null || missing "npm; install Node 20 or later"
node -e 'process.exit(Number(parseInt(process.versions.node) < 20))' || missing "Node 20 or later"
if [ ! -d "$(rustc --print target-libdir --target $target)" ]; then
  rustup target add $target || missing "the target $target of $(rustc --version); rustup adds it"
fi
(cd crates/web && npm ci --silent) || missing "the packages of package-lock.json; they cannot be installed here"

# Small rather than fast, for a phone loads it; a panic ends the instance, which `load` then makes anew. Names stay
# until functions stand in their order: alike ones side by side take 3 % less room when they are compressed.
export CARGO_PROFILE_RELEASE_OPT_LEVEL=z CARGO_PROFILE_RELEASE_PANIC=abort
# The places of panics are told without the folder of whoever builds.
export RUSTFLAGS="${RUSTFLAGS-} --remap-path-prefix=${CARGO_HOME:-$HOME/.cargo}/registry/src=crates"
library() {
  cargo rustc -p pointage-api --release --lib --locked --features capi --crate-type cdylib --target $target "${@:2}"
  crates/web/node_modules/.bin/wasm-opt -Os --all-features --reorder-functions-by-name --strip-debug --strip-producers \
    "${CARGO_TARGET_DIR:-target}/$target/release/pointage_api.wasm" -o "crates/web/$1"
  printf '%s: %s bytes gzipped\n' "$1" "$(gzip -9 < "crates/web/$1" | wc -c)"
}
library pointage-without-learn.wasm --no-default-features
library pointage.wasm
node crates/web/types.mjs
node crates/web/page/build.mjs
